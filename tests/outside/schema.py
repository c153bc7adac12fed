"""Holds answers against a JSON Schema: {"schema": ..., "answers": [...]} on stdin, a list of lists of errors on stdout."""

import json
import sys

from jsonschema import Draft202012Validator

question = json.load(sys.stdin)
Draft202012Validator.check_schema(question["schema"])


def errors(answer):
    verb = answer["format"].split(" ")[-1]
    # Of the answer of one verb errors say what is wrong; of all, only that none fits.
    own = {key: member for key, member in question["schema"].items() if key != "oneOf"}
    own["$ref"] = f"#/$defs/answer_{verb}"
    found = Draft202012Validator(own).iter_errors(answer)
    told = [f"{'/'.join(map(str, error.absolute_path))}: {error.message[:200]}" for error in found]
    whole = Draft202012Validator(question["schema"]).is_valid(answer)
    return told if told or whole else ["it is the answer of no verb, or of several"]


json.dump([errors(answer) for answer in question["answers"]], sys.stdout)
