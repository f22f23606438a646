"""Holds an answer against schema/openapi.yaml: the route, the status, the media type and the body."""
import json
import re

import jsonschema
import yaml

METHODS = {"get", "post", "put", "delete", "patch", "head", "options"}


class Contract:
    def __init__(self, folder):
        self.openapi = yaml.safe_load((folder / "openapi.yaml").read_text())
        self.entry_schema = json.loads((folder / "entry.schema.json").read_text()) \
            if (folder / "entry.schema.json").exists() else None
        self.paths = [(re.compile(re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>[^/]+)", re.escape(p)) + "$"), p)
                      for p in self.openapi["paths"]]
        # an exact path comes before one with a parameter
        self.paths.sort(key=lambda x: x[1].count("{"))
        self.resolver = jsonschema.RefResolver("openapi.yaml", self.openapi)
        self.validators = {}
        self.seen = set()  # (operation, status)

    def route(self, path):
        for pattern, p in self.paths:
            if pattern.match(path):
                return p
        return None

    def operations(self):
        for p, item in self.openapi["paths"].items():
            for method, op in item.items():
                if method in METHODS:
                    yield p, method, op

    def deref(self, node):
        while "$ref" in node:
            _, node = self.resolver.resolve(node["$ref"])
        return node

    def validator(self, route, method, status, media, schema):
        key = (route, method, status, media)
        if key not in self.validators:
            self.validators[key] = jsonschema.Draft202012Validator(schema, resolver=self.resolver)
        return self.validators[key]

    def hold(self, method, path, answer):
        media = answer.headers.get("Content-Type", "").split(";")[0].strip()
        where = "%s %s -> %d %s" % (method, path, answer.status_code, media)
        route, method = self.route(path), method.lower()
        known = route is not None and method in self.openapi["paths"][route]
        if not known:
            if path.startswith(("/api/", "/schema/")) or answer.status_code >= 400:
                assert answer.status_code in (400, 404, 405), "%s, though the contract has no such route" % where
                self.check(self.openapi["components"]["schemas"]["Problem"], answer, where, ("problem",))
                assert media == "application/problem+json", where
            return
        op = self.openapi["paths"][route][method]
        status = str(answer.status_code)
        responses = {**dict.fromkeys(self.openapi["x-any-operation"], self.openapi["components"]["responses"]["Problem"]),
                     **op["responses"]}
        assert status in responses, "%s: no such status in the contract; %s" % (where, answer.text[:400])
        content = self.deref(responses[status])["content"]
        assert media in content, "%s: not one of %s" % (where, list(content))
        self.seen.add((op["operationId"], status))
        if media.endswith("json") and media != "application/x-ndjson":
            self.check(content[media]["schema"], answer, where, (route, method, status, media))
        elif op["operationId"] == "postEntries" and media == "application/x-ndjson":
            receipt = self.validator("receipt", "", "", "", self.openapi["components"]["schemas"]["Receipt"])
            for line in answer.text.splitlines():
                receipt.validate(json.loads(line))

    def check(self, schema, answer, where, key):
        validator = self.validator(*(key + ("", "", ""))[:4], schema)
        body = answer.json()
        errors = sorted(validator.iter_errors(body), key=lambda e: -len(e.absolute_path))
        assert not errors, "%s: at /%s: %s" % (
            where, "/".join(map(str, errors[0].absolute_path)), errors[0].message[:600])


