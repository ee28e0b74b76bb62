"""Camera reports on paper: pypdf reads their text in the order of the page, PDFium reads it again and prints it, qpdf's
library checks the file and shows what the parts of it are. One object a file, in their order.

With LENSMEND_SHOTS set to a folder, pictures of the sheets are left there.
"""

import json
import os
import pathlib
import sys

import pikepdf
import pypdfium2
from pypdf import PdfReader

# Points (1/72 in) at the edges of a sheet in which nothing may be printed.
MARGIN = 20


def texts(path):
    reader = PdfReader(path)
    bookmarks = []

    def walk(entries, depth):
        for entry in entries:
            if isinstance(entry, list):
                walk(entry, depth + 1)
            else:
                bookmarks.append([depth, entry.title, reader.get_destination_page_number(entry) + 1])

    walk(reader.outline, 0)
    return {
        "sheets": [page.extract_text() for page in reader.pages],
        "size": [float(reader.pages[0].mediabox.width), float(reader.pages[0].mediabox.height)],
        "bookmarks": bookmarks,
        "facts": {key: str(value) for key, value in (reader.metadata or {}).items()},
    }


def printed(path):
    shots = os.environ.get("LENSMEND_SHOTS")
    document = pypdfium2.PdfDocument(path)
    said, clean = [], True
    for number, page in enumerate(document):
        said.append(page.get_textpage().get_text_bounded())
        bitmap = page.render(scale=1, grayscale=True)
        sheet = bitmap.to_numpy().squeeze()
        edges = [sheet[:MARGIN], sheet[-MARGIN:], sheet[:, :MARGIN], sheet[:, -MARGIN:]]
        clean &= all((edge == 255).all() for edge in edges)
        if shots:
            name = f"{pathlib.Path(path).parent.name}-{number + 1}.png"
            page.render(scale=1.5).to_pil().save(pathlib.Path(shots) / name)
    return {"again": said, "margins": bool(clean)}


def structure(pdf):
    """Kinds of the parts in order, rows of tables by the columns they span, and what pictures say."""
    kinds, rows, pictures, headings, words = {}, [], [], [], []

    def span(cell):
        attributes = cell.get("/A", [])
        for one in attributes if isinstance(attributes, pikepdf.Array) else [attributes]:
            if "/ColSpan" in one:
                return int(one["/ColSpan"])
        return 1

    def walk(part, table):
        if not isinstance(part, pikepdf.Dictionary) or "/S" not in part:
            return
        kind = str(part["/S"])[1:]
        kinds[kind] = kinds.get(kind, 0) + 1
        children = part.get("/K", [])
        children = list(children) if isinstance(children, pikepdf.Array) else [children]
        if kind == "Table":
            table = []
            rows.append(table)
        if kind == "TR":
            table.append(sum(span(cell) for cell in children))
        if kind == "Figure":
            pictures.append(str(part.get("/Alt", "")))
        if kind[0] == "H" and kind[1:].isdigit():
            headings.append([int(kind[1:]), str(part.get("/T", ""))])
        if kind == "TD" and "/Alt" in part:
            words.append(str(part["/Alt"]))
        for child in children:
            walk(child, table)

    root = pdf.Root.StructTreeRoot
    top = root.get("/K", [])
    for part in list(top) if isinstance(top, pikepdf.Array) else [top]:
        walk(part, None)
    return {"kinds": kinds, "tables": rows, "pictures": pictures, "headings": headings, "cells": words}


def checked(path):
    with pikepdf.open(path) as pdf:
        names = [str(key) for key in pdf.Root.keys()]
        fonts = {}
        actions = 0
        for page in pdf.pages:
            actions += "/Annots" in page or "/AA" in page
            for font in page.Resources.get("/Font", {}).values():
                below = font.DescendantFonts[0].FontDescriptor
                fonts[str(font.BaseFont)] = {
                    "embedded": "/FontFile2" in below or "/FontFile3" in below,
                    "subset": str(font.BaseFont)[7:8] == "+",
                    "unicode": "/ToUnicode" in font,
                }
        with pdf.open_metadata() as meta:
            claims = {key: meta.get(key) for key in ("pdfaid:part", "pdfaid:conformance", "pdfuaid:part", "dc:title")}
        return {
            "problems": pdf.check_pdf_syntax(),
            "active": actions + sum(name in ("/OpenAction", "/AA", "/AcroForm") for name in names),
            "scripts": "/Names" in pdf.Root and "/JavaScript" in pdf.Root.Names,
            "intents": "/OutputIntents" in pdf.Root,
            "language": str(pdf.Root.get("/Lang", "")),
            "fonts": fonts,
            "claims": claims,
            "structure": structure(pdf),
        }


answers = [{"file": path, **texts(path), **printed(path), **checked(path)} for path in sys.argv[1:]]
json.dump(answers, sys.stdout)
