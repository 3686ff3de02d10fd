"""What other people's libraries read in messages, for the tests of the laboratory's door.

    messages_reference.py segments FILE          every segment and first component of every field (python-hl7)
    messages_reference.py acknowledgements FILE  acknowledgements, parted by blank lines, held against the standard (hl7apy)
    messages_reference.py messages FILE          messages of a file held against the standard (hl7apy)
    messages_reference.py resources FILE...      kinds of resources and coded results (fhir.resources, R4B)

Each prints one JSON object. Written from the documentation of the libraries, not from the program it checks.
"""

import json
import re
import sys
from collections import Counter


def text_of(path):
    with open(path, "rb") as file:
        return file.read().decode("utf-8", errors="replace")


def messages_of(path):
    """Messages of a file, segments parted by CR; batch segments dropped."""
    lines = re.split(r"\r\n|\r|\n", text_of(path))
    messages = []
    for line in lines:
        line = line.strip("\x0b\x1c \t\ufeff")
        if line.startswith("MSH"):
            messages.append([line])
        elif line[:3] in ("FHS", "BHS", "BTS", "FTS") or not line:
            continue
        elif messages:
            messages[-1].append(line)
    return ["\r".join(lines) + "\r" for lines in messages]


def segments(path):
    import hl7

    found = []
    for text in messages_of(path):
        message = hl7.parse(text)
        separators = message.separators
        rows = []
        for segment in message:
            name = str(segment[0])
            fields = []
            for number in range(1, len(segment)):
                if name == "MSH" and number < 3:
                    fields.append(str(segment[number]))
                    continue
                # One field: repetitions of components of subcomponents; a plain text where it has none of them.
                part = segment[number]
                while not isinstance(part, str) and len(part):
                    part = part[0]
                value = part if isinstance(part, str) else ""
                fields.append(message.unescape(value).strip())
            rows.append([name, fields])
        found.append(rows)
        assert separators.startswith("\r")
    return {"library": f"hl7 {library_version('hl7')}", "messages": found}


def library_version(name):
    from importlib.metadata import version

    return version(name)


def validated(text):
    """Reads one message strictly; gives its kind and segments, or what is wrong with it."""
    from hl7apy.consts import VALIDATION_LEVEL
    from hl7apy.core import Message
    from hl7apy.parser import parse_message, parse_segment

    header = text.split("\r", 1)[0]
    separator = header[3]
    encoding = header.split(separator)[1]
    if len(encoding) == 5:
        # The library knows four encoding characters.
        text = text.replace(encoding, encoding[:4], 1)
    try:
        if header.split(separator)[8].startswith("ACK") and header.split(separator)[11] == "2.3":
            # Before 2.3.1 no field names the structure, and the library cannot find it by itself.
            message = Message("ACK", version="2.3", validation_level=VALIDATION_LEVEL.STRICT)
            for line in filter(None, text.split("\r")):
                segment = parse_segment(line, "2.3", chars_of(header), VALIDATION_LEVEL.STRICT)
                if segment.name == "MSH":
                    message.msh = segment
                else:
                    message.add(segment)
        else:
            message = parse_message(text, validation_level=VALIDATION_LEVEL.STRICT)
        message.validate()
    except Exception as error:  # any refusal is what is asked for here
        return {"valid": False, "why": f"{type(error).__name__}: {error}"}
    names = [segment.name for segment in every_segment(message)]
    result = {"valid": True, "version": message.version, "structure": message.name, "segments": names}
    if "MSA" in names:
        msa = message.msa
        result["code"] = msa.msa_1.to_er7()
        result["control_id"] = msa.msa_2.to_er7()
        result["sender"] = message.msh.msh_3.to_er7()
        result["receiver"] = message.msh.msh_5.to_er7()
        if "ERR" in names:
            result["error"] = message.err.to_er7()
    return result


def chars_of(header):
    """The delimiters of a header, as hl7apy wants them."""
    names = ("COMPONENT", "REPETITION", "ESCAPE", "SUBCOMPONENT")
    chars = dict(zip(names, header.split(header[3])[1]))
    return {"SEGMENT": "\r", "GROUP": "\r", "FIELD": header[3], **chars}


def every_segment(group):
    from hl7apy.core import Segment

    for child in group.children:
        if isinstance(child, Segment):
            yield child
        else:
            yield from every_segment(child)


def acknowledgements(path):
    parts = [part for part in text_of(path).split("\n\n") if part.strip()]
    return {"library": f"hl7apy {library_version('hl7apy')}", "answers": [validated(part) for part in parts]}


def messages(path):
    return {
        "library": f"hl7apy {library_version('hl7apy')}",
        "messages": [validated(text) for text in messages_of(path)],
    }


def resources(paths):
    from fhir.resources.R4B import get_fhir_model_class

    kinds = Counter()
    said = []
    for path in paths:
        text = text_of(path)
        kind = json.loads(text)["resourceType"]
        model = get_fhir_model_class(kind).model_validate_json(text)
        entries = [entry.resource for entry in model.entry] if kind == "Bundle" else [model]
        for resource in entries:
            name = type(resource).__name__
            kinds[name] += 1
            value = getattr(resource, "valueCodeableConcept", None)
            if name == "Observation" and value is not None:
                coding = (value.coding or [None])[0]
                said.append([resource.code.coding[0].code, coding and coding.display or value.text])
    return {"library": f"fhir.resources {library_version('fhir.resources')}", "kinds": kinds, "said": said}


def main():
    command, *paths = sys.argv[1:]
    if command == "resources":
        result = resources(paths)
    else:
        result = {"segments": segments, "acknowledgements": acknowledgements, "messages": messages}[command](*paths)
    print(json.dumps(result))


main()
