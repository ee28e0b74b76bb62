#!/usr/bin/env python3
"""What a spreadsheet library reads in workbooks of blank lens notes, and what it makes of them when they are filled in.

    sheet_book.py BOOK...       JSON on stdout, one object a book

    { "file": the book, "program": who made it, "created": its date, "sheets": names in order,
      "rows": the cells of the first sheet as text, "formulas": cells anywhere that would be worked out,
      "typed": cells of the first sheet that are not text, "formats": number formats of the row below the headings,
      "frozen": the cell that the panes are frozen at, "repeated": rows printed on every page, "landscape": true or false,
      "lists": { heading: { "cells": range, "values": words offered, "style": what a word outside of the list meets } },
      "advice": { heading: words shown when it is chosen } }

Beside each book it saves BOOK.filled.xlsx: the same, with `S1`, `S2`, ... under Slate and the first words of the lists
under Lens, Stop and Attachment, as somebody who chooses from the lists would leave it.
"""
import json
import sys
import zipfile

import openpyxl
from lxml import etree


def main(books):
    json.dump([{"file": book, **read(book)} for book in books], sys.stdout, indent=1, ensure_ascii=False)
    print()


def read(book):
    opened = openpyxl.load_workbook(book)
    page = opened.worksheets[0]
    top = next(row for row in page.iter_rows() if "Clip" in [cell.value for cell in row])
    headings = {cell.column: cell.value for cell in top}
    first = top[0].row + 1
    lists, advice = {}, {}
    for rule in page.data_validations.dataValidation:
        place = rule.sqref.ranges[0] if isinstance(rule.sqref.ranges, list) else next(iter(rule.sqref.ranges))
        heading = headings[place.min_col]
        if rule.type == "list":
            style = (rule.errorStyle or "stop") if rule.showErrorMessage else "none"
            lists[heading] = {"cells": place.coord, "values": offered(opened, rule.formula1), "style": style}
        else:
            advice[heading] = rule.prompt
    said = {
        "program": program(book),
        "created": opened.properties.created.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "sheets": opened.sheetnames,
        "rows": [["" if cell.value is None else str(cell.value) for cell in row] for row in page.iter_rows()],
        "formulas": [c.coordinate for sheet in opened for row in sheet.iter_rows() for c in row if c.data_type == "f"],
        "typed": [c.coordinate for row in page.iter_rows() for c in row if c.value is not None and c.data_type != "s"],
        "formats": [cell.number_format for cell in page[first]],
        "frozen": page.freeze_panes,
        "repeated": page.print_title_rows,
        "landscape": page.page_setup.orientation == "landscape",
        "lists": lists,
        "advice": advice,
    }
    fill(page, {word: column for column, word in headings.items()}, first, lists)
    opened.save(book + ".filled.xlsx")
    return said


def offered(book, formula):
    sheet, cells = formula.lstrip("=").split("!")
    return [row[0].value for row in book[sheet][cells.replace("$", "")]]


def fill(page, columns, first, lists):
    for number, row in enumerate(range(first, page.max_row + 1), 1):
        page.cell(row, columns["Slate"]).value = f"S{number}"
        for heading in ("Lens", "Stop", "Attachment"):
            page.cell(row, columns[heading]).value = lists[heading]["values"][0]


def program(book):
    app = etree.fromstring(zipfile.ZipFile(book).read("docProps/app.xml"))
    return app.find("{*}Application").text


main(sys.argv[1:])
