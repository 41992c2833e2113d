"""Checks a calibration certificate against its schema, and works out its id independently.

Usage: check_certificate.py SCHEMA.json CERTIFICATE.json; exits with 1 where either fails.
"""
import hashlib
import json
import sys

import jsonschema


def shortest(number):
    """The number as the canonical text spells it: like repr, but 1e-07 and 123456789.0 alike."""
    return repr(float(number))


def canonical(value):
    if isinstance(value, dict):
        items = (f"{json.dumps(key, ensure_ascii=False)}:{canonical(value[key])}" for key in sorted(value))
        return "{" + ",".join(items) + "}"
    if isinstance(value, list):
        return "[" + ",".join(canonical(element) for element in value) + "]"
    if isinstance(value, bool) or isinstance(value, str) or value is None:
        return json.dumps(value, ensure_ascii=False)
    return shortest(value)


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        schema = json.load(file)
    with open(sys.argv[2], encoding="utf-8") as file:
        certificate = json.load(file)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(certificate, schema)
    stated = certificate.pop("id")
    worked_out = hashlib.sha256(canonical(certificate).encode()).hexdigest()
    if stated != worked_out:
        sys.exit(f"the content hashes to {worked_out}, the certificate says {stated}")


if __name__ == "__main__":
    main()
