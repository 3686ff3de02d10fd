"""Reads caption files with webvtt-py and prints, one JSON object a file, the cues it finds: start, end, words.

    python captions.py FOLDER

A file the library refuses is printed with its refusal.
"""

import json
import pathlib
import sys

import webvtt

READERS = {".vtt": webvtt.read, ".srt": webvtt.from_srt, ".sbv": webvtt.from_sbv}


def seconds(stamp):
    return stamp.hours * 3600 + stamp.minutes * 60 + stamp.seconds + stamp.milliseconds / 1000


for path in sorted(pathlib.Path(sys.argv[1]).iterdir()):
    reader = READERS.get(path.suffix)
    if reader is None:
        continue
    try:
        cues = [[seconds(cue.start_time), seconds(cue.end_time), " ".join(cue.text.split())] for cue in reader(str(path))]
        print(json.dumps({"file": path.name, "cues": cues}))
    except Exception as refusal:  # the library's own refusals have several types
        print(json.dumps({"file": path.name, "refused": f"{type(refusal).__name__}: {refusal}"}))
