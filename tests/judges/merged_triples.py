#!/usr/bin/env python3
"""Whether a merge kept what it must, by an RDF library and an XMP toolkit.

    merged_triples.py BEFORE AFTER [BEFORE AFTER]...       JSON on stdout

    [ { "file":    "BEFORE as it was given", and then AFTER in an answer of its own,
        "kept":    true if the triples outside of lensmend's hand are the same graph before and after,
        "lost":    [ triples only before ], "added": [ triples only after ],
        "triples": how many triples stand outside of lensmend's hand,
        "toolkit": { "exif:FNumber": "..." } values that the XMP toolkit (exempi) finds afterwards; "error" if it refuses the file,
        "gone":    { values that it found before and finds no more, or otherwise } } , ... ]

lensmend's hand are its own namespace, xmp:MetadataDate, and the properties that AFTER names in lensmend:written.
rdflib reads rdf:RDF taken out of its wrapper by lxml; graphs are compared with blank nodes of any name.
"""
import json
import sys

import rdflib
from libxmp import XMPError, XMPIterator, XMPMeta
from lxml import etree
from rdflib.compare import graph_diff, to_isomorphic

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
OWN = "https://lensmend.invalid/xmp/1.0/"
DATE = "http://ns.adobe.com/xap/1.0/MetadataDate"
SPACES = {"dc": "http://purl.org/dc/elements/1.1/", "exif": "http://ns.adobe.com/exif/1.0/",
          "exifEX": "http://cipa.jp/exif/1.0/", "tiff": "http://ns.adobe.com/tiff/1.0/",
          "xmp": "http://ns.adobe.com/xap/1.0/", "xmpDM": "http://ns.adobe.com/xmp/1.0/DynamicMedia/",
          "lensmend": OWN}


def main(files):
    answers = []
    for before, after in zip(files[::2], files[1::2]):
        answers += [judged(before, after), {"file": after}]
    json.dump(answers, sys.stdout, indent=1, ensure_ascii=False)


def judged(before, after):
    old, new = graph(before), graph(after)
    # Of the resource that lensmend speaks of, and of no other.
    written = list(new.subject_objects(rdflib.URIRef(OWN + "written")))
    names = [(clip, *pair.split("=")[0].split(":", 1)) for clip, text in written for pair in str(text).split()]
    said = {(clip, SPACES[prefix] + name) for clip, prefix, name in names}
    old, new = foreign(old, set()), foreign(new, said)
    _, lost, added = graph_diff(to_isomorphic(old), to_isomorphic(new))
    had, has = toolkit(before), toolkit(after)
    date = "xmp:MetadataDate"
    gone = {path: value for path, value in had.items() if has.get(path) != value and path != date}
    return {"file": before, "kept": to_isomorphic(old) == to_isomorphic(new), "triples": len(old),
            "lost": [str(triple) for triple in lost], "added": [str(triple) for triple in added],
            "toolkit": has, "gone": gone}


def graph(file):
    parser = etree.XMLParser(recover=False, resolve_entities=False, no_network=True, huge_tree=True)
    packet, = etree.parse(file, parser).iter(f"{{{RDF}}}RDF")
    found = rdflib.Graph()
    found.parse(data=etree.tostring(packet, encoding="unicode", with_tail=False), format="xml", publicID="sidecar:x")
    return found


def foreign(whole, said):
    """The graph without the properties of lensmend and what hangs on them alone."""
    kept = rdflib.Graph()
    inner = set()

    def below(node):
        if isinstance(node, rdflib.BNode) and node not in inner:
            inner.add(node)
            for value in whole.objects(node):
                below(value)

    values = set(whole.objects())
    tops = {subject for subject in whole.subjects() if subject not in values}
    ours = [triple for triple in whole if triple[0] in tops
            and (str(triple[1]).startswith(OWN) or str(triple[1]) == DATE or (triple[0], str(triple[1])) in said)]
    for _, _, value in ours:
        below(value)
    for triple in whole:
        if triple not in ours and triple[0] not in inner:
            kept.add(triple)
    return kept


def toolkit(file):
    with open(file, "rb") as opened:
        packet, = etree.parse(opened, etree.XMLParser(huge_tree=True, resolve_entities=False)).iter(f"{{{RDF}}}RDF")
    text = etree.tostring(packet, encoding="unicode", with_tail=False)
    meta = XMPMeta()
    try:
        # It looks for the wrapper first, which the standard makes optional (ISO 16684-1, 7.3.3).
        meta.parse_from_str(f"<x:xmpmeta xmlns:x='adobe:ns:meta/'>{text}</x:xmpmeta>")
    except XMPError as trouble:
        return {"error": str(trouble)}
    found = {}
    for _, path, value, options in XMPIterator(meta):
        if not any(options[kind] for kind in ("IS_SCHEMA", "VALUE_IS_STRUCT", "VALUE_IS_ARRAY")):
            found[path] = value
    return found


if __name__ == "__main__":
    main(sys.argv[1:])
