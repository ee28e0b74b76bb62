#!/usr/bin/env python3
"""What outside readers find in XMP sidecars, each by itself.

    xmp_values.py FILE...       JSON on stdout

    [ { "file":       "as it was given",
        "strict_xml": "ok", or what lxml's strict parser and xmllint complain of
        "toolkit":    { "exif:FocalLength": "355/10",
                        "exifEX:LensSpecification[1]": "50/1",
                        "xmpDM:startTimecode/xmpDM:timeValue": "10:02:11:05",
                        "dc:description[1]": "...", "dc:description[1]/?xml:lang": "x-default" }
        "exiv2":      { "Xmp.exif.FocalLength": "355/10",
                        "Xmp.exifEX.LensSpecification": "50/1, 50/1, 14/10, 14/10",
                        "Xmp.xmpDM.startTimecode/xmpDM:timeValue": "10:02:11:05",
                        "Xmp.dc.description": "lang=\\"x-default\\" ..." }
        "rdf":        [ [subject, predicate, object], ... ] sorted } , ... ]

`toolkit` (the exempi library) and `exiv2` hold every value that their reader finds, under the path that
it gives it; structs and arrays as such have no value and are left out. exiv2 writes an array of plain
values as one text. In `rdf` (rdflib) names are whole URIs, the resource described is "", and a nested
node is called by the way to it, "_:" + one predicate after the other, each in angle brackets.
The two XMP readers forgive broken XML: believe them only where strict_xml is "ok".

A judge that fails on a file leaves {"error": "why"} in its place. The exit code is then 1, and also
when strict_xml is not "ok".
"""
import json
import logging
import subprocess
import sys

import exiv2
import rdflib
from libxmp import XMPIterator, XMPMeta
from lxml import etree

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
# rdf:about="" means the document; rdflib wants a document to have an address.
DOCUMENT = "sidecar:document"
# Files with which xmllint found nothing wrong, all in one go.
SOUND = False


def main(files):
    global SOUND
    SOUND = sound(files)
    answers = [{"file": file, "strict_xml": answer(strict_xml, file), "toolkit": answer(toolkit, file),
                "exiv2": answer(exiv2_values, file), "rdf": answer(rdf, file)} for file in files]
    json.dump(answers, sys.stdout, indent=1, ensure_ascii=False)
    print()
    failed = any(found["strict_xml"] != "ok" or any("error" in found[judge] for judge in ("toolkit", "exiv2", "rdf"))
                 for found in answers)
    sys.exit(1 if failed else 0)


def answer(judge, file):
    """A judge's answer, or its failure as part of the answer: a bad file must not silence the rest."""
    try:
        return judge(file)
    except Exception as trouble:  # The libraries raise whatever they like.
        return {"error": f"{type(trouble).__name__}: {trouble}"}


def sound(files):
    """True if xmllint has nothing to say of any of the files: a process each would take most of the time."""
    lint = subprocess.run(["xmllint", "--noout", "--nonet", *files], capture_output=True, check=False)
    return not (lint.returncode or lint.stderr)


def strict_xml(file):
    """Two XML parsers without forgiveness."""
    complaints = []
    try:
        etree.parse(file, strict_parser())
    except (etree.XMLSyntaxError, OSError) as trouble:
        complaints.append(f"lxml: {trouble}")
    if SOUND:
        return "\n".join(complaints) or "ok"
    lint = subprocess.run(["xmllint", "--noout", "--nonet", file], capture_output=True, check=False)
    # A warning (an unusual namespace name, say) leaves xmllint's exit code at 0.
    if lint.returncode or lint.stderr:
        complaints.append(f"xmllint: {lint.stderr.decode(errors='replace').strip()}")
    return "\n".join(complaints) or "ok"


def toolkit(file):
    """Every value that the XMP toolkit's iterator visits."""
    with open(file, encoding="utf-8") as text:
        meta = XMPMeta()
        meta.parse_from_str(text.read())
    found = {}
    for _, path, value, options in XMPIterator(meta):
        if not any(options[kind] for kind in ("IS_SCHEMA", "VALUE_IS_STRUCT", "VALUE_IS_ARRAY")):
            if path in found:
                raise ValueError(f"{path} was visited twice")
            found[path] = value
    if not found:
        raise ValueError("no property found")
    return found


def exiv2_values(file):
    """Every value that the exiv2 library reads; what it only logs as an error counts as a failure."""
    complaints = []
    log = logging.Handler(logging.ERROR)
    log.emit = lambda record: complaints.append(record.getMessage().strip())
    logging.getLogger("exiv2").handlers = [log]
    logging.getLogger("exiv2").propagate = False
    image = exiv2.ImageFactory.open(file)
    image.readMetadata()
    found = {datum.key(): datum.toString() for datum in image.xmpData()
             if datum.toString() not in ('type="Struct"', 'type="Seq"', 'type="Bag"', 'type="Alt"')}
    if complaints or not found:
        raise ValueError("; ".join(complaints) or "no property found")
    return found


def rdf(file):
    """The triples of the one rdf:RDF in the packet."""
    packets = list(etree.parse(file, strict_parser()).iter(f"{{{RDF}}}RDF"))
    if len(packets) != 1:
        raise ValueError(f"{len(packets)} rdf:RDF elements, there must be one")
    graph = rdflib.Graph()
    graph.parse(data=etree.tostring(packets[0], encoding="unicode", with_tail=False), format="xml", publicID=DOCUMENT)
    names = {rdflib.URIRef(DOCUMENT): ""}

    def name(node, way):
        # A tree is walked once, so each nested node is met by one way only.
        for _, predicate, value in sorted(graph.triples((node, None, None))):
            if isinstance(value, rdflib.BNode) and value not in names:
                names[value] = f"{way}<{predicate}>"
                name(value, names[value])

    for subject in sorted(set(graph.subjects()) - set(graph.objects())):
        name(subject, "_:")
    return sorted([names.get(part, str(part)) for part in triple] for triple in graph)


def strict_parser():
    """Refuses malformed XML and fetches nothing."""
    return etree.XMLParser(recover=False, resolve_entities=False, no_network=True)


if __name__ == "__main__":
    main(sys.argv[1:])
