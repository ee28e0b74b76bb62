#!/usr/bin/env python3
"""The reference tool of ASC MHL: seals folders, and says what it thinks of a sealed one.

    histories.py seal KINDS FOLDER      a new generation with hashes of KINDS, parted by commas
    histories.py look FOLDER            what `diff` and `verify` say
    histories.py hash KIND FILE...      hashes of files

JSON on stdout:

    seal   { "code": 0, "said": "..." }
    look   { "diff": 21, "new": ["A003/a.xmp"], "missing": [], "verify": 0, "generations": 2, "said": "..." }
    hash   ["ef46db3751d8e999", ...]

Codes are the tool's own exit codes: 0 all well, 10 files are missing, 11 a hash differs, 21 there are new files.
"""
import json
import pathlib
import re
import subprocess
import sys

# The tools lie beside the Python that the judges run on; links are not followed, or they would lead out of it.
TOOLS = pathlib.Path(sys.executable).parent


def call(tool, *words):
    run = subprocess.run(
        [TOOLS / tool, *map(str, words)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    return run.returncode, run.stdout


def seal(kinds, folder):
    words = [word for kind in kinds.split(",") for word in ("-h", kind)]
    code, said = call("ascmhl", "create", *words, folder)
    return {"code": code, "said": said}


def look(folder):
    diff, said = call("ascmhl", "diff", folder)
    verify, more = call("ascmhl-debug", "verify", folder)
    _, info = call("ascmhl", "info", folder)
    return {
        "diff": diff,
        "new": sorted(re.findall(r"^found new file (.+)$", said, re.M)),
        "missing": sorted(re.findall(r"^  (\S.*)$", said.partition("missing file(s):")[2], re.M)),
        "verify": verify,
        "generations": len(re.findall(r"^\s*Generation \d+", info, re.M)),
        "said": said + more + info,
    }


def hash_of(kind, file):
    code, said = call("ascmhl-debug", "hash", "-h", kind, file)
    if code != 0:
        raise SystemExit(said)
    return said.split()[-1]


match sys.argv[1:]:
    case ["seal", kinds, folder]:
        answer = seal(kinds, folder)
    case ["look", folder]:
        answer = look(folder)
    case ["hash", kind, *files]:
        answer = [hash_of(kind, file) for file in files]
    case _:
        raise SystemExit(__doc__)
json.dump(answer, sys.stdout)
