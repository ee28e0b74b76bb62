#!/usr/bin/env python3
"""Runs a program at a terminal, and says what a person would have seen there.

    terminal.py PROGRAM WORDS...

    { "code": 0, "shown": "everything that came, with the letters that steer" }
"""
import json
import os
import pty
import sys

shown = bytearray()


def read(descriptor):
    piece = os.read(descriptor, 4096)
    shown.extend(piece)
    # What is returned would be copied to our own output, which is for the answer alone.
    return piece and b" "


real = os.dup(1)
silent = os.open(os.devnull, os.O_WRONLY)
os.dup2(silent, 1)
status = pty.spawn(sys.argv[1:], read, lambda descriptor: b"")
os.dup2(real, 1)
json.dump({"code": os.waitstatus_to_exitcode(status), "shown": shown.decode(errors="replace")}, sys.stdout)
