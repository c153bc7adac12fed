"""Holds answers against a JSON Schema: {"schema": ..., "answers": [...]} on stdin, a list of lists of errors on stdout."""

import json
import sys

from jsonschema import Draft202012Validator

question = json.load(sys.stdin)
Draft202012Validator.check_schema(question["schema"])


validator = Draft202012Validator(question["schema"])


def errors(answer):
    found = validator.iter_errors(answer)
    return [f"{'/'.join(map(str, error.absolute_path))}: {error.message[:200]}" for error in found]


json.dump([errors(answer) for answer in question["answers"]], sys.stdout)
