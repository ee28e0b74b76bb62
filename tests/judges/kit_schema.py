#!/usr/bin/env python3
"""What a JSON Schema library says of the schema of kit.toml, and of kits held against it.

    kit_schema.py SCHEMA KIT...       JSON on stdout

    [ { "file": "the schema", "schema": "ok", or what its metaschema complains of },
      { "file": "a kit", "complaints": ["camera/0/mode/0/raster: ... does not match ..."] }, ... ]

Kits are read by Python's own TOML reader. A kit that it cannot read leaves {"error": "why"}.
"""
import json
import sys
import tomllib

import jsonschema


def main(schema_file, kits):
    with open(schema_file, encoding="utf-8") as file:
        schema = json.load(file)
    judge = jsonschema.Draft202012Validator
    said = {"file": schema_file, "schema": "ok"}
    try:
        judge.check_schema(schema)
    except jsonschema.SchemaError as trouble:
        said["schema"] = trouble.message
    answers = [said] + [{"file": kit, **complaints(judge(schema), kit)} for kit in kits]
    json.dump(answers, sys.stdout, indent=1, ensure_ascii=False)
    print()


def complaints(judge, kit):
    try:
        with open(kit, "rb") as file:
            # A schema cannot speak of what is no number: every comparison with it is false.
            document = tomllib.load(file, parse_float=lambda text: None if "nan" in text else float(text))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as trouble:
        return {"error": str(trouble)}
    found = sorted(judge.iter_errors(document), key=lambda error: [str(part) for part in error.path])
    return {"complaints": ["/".join(map(str, error.path)) + ": " + error.message[:300] for error in found]}


main(sys.argv[1], sys.argv[2:])
