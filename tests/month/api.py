"""The client that openapi-python-client makes from the API document, called
by operation id. Nothing of the client is changed: an operation that it does
not have, or a field that its models do not know, stops the month."""

import csv
import importlib
import inspect
import io
import pkgutil
import re
import uuid
from urllib.parse import parse_qsl

import onetrip_client.api
from onetrip_client import AuthenticatedClient, Client


class Refused(Exception):
    """An answer other than 2xx."""

    def __init__(self, operation, answer):
        self.status = answer.status_code
        self.text = answer.content.decode()
        super().__init__(f"{operation}: {int(self.status)} {self.text}")


def operations():
    """Every operation of the client: its name to its module."""
    found = {}
    for tag in pkgutil.iter_modules(onetrip_client.api.__path__):
        package = importlib.import_module(f"onetrip_client.api.{tag.name}")
        for module in pkgutil.iter_modules(package.__path__):
            found[module.name] = importlib.import_module(f"{package.__name__}.{module.name}")
    return found


def snake(operation):
    return re.sub(r"(?<=[a-z0-9])([A-Z])", r"_\1", operation).lower()


def shape(value):
    """A JSON value's fields, without what is in them."""
    if isinstance(value, dict):
        return {key: shape(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [shape(inner) for inner in value]
    return None


def modeled(parameter, body):
    """The body as the operation's own model."""
    kinds = getattr(parameter.annotation, "__args__", (parameter.annotation,))
    model = next(kind for kind in kinds if hasattr(kind, "from_dict"))
    made = model.from_dict(body)
    if shape(made.to_dict()) != shape(body):
        raise TypeError(f"{model.__name__} does not know all of {body}")
    return made


class Api:
    def __init__(self, base):
        self.base = base
        self.operations = operations()

    def module(self, operation):
        return self.operations[snake(operation)]

    def anybody(self):
        return Client(base_url=self.base)

    def bearer(self, token):
        return AuthenticatedClient(base_url=self.base, token=token, timeout=30)

    def call(self, client, operation, body=None, match=None, **place):
        """The answer's headers and JSON, in a pair."""
        module = self.module(operation)
        taken = inspect.signature(module.sync_detailed).parameters
        given = {name if name in taken else f"{name}_": value for name, value in place.items()}
        if "idempotency_key" in taken:
            given["idempotency_key"] = str(uuid.uuid4())
        if match is not None:
            given["if_match"] = match
        if body is not None:
            given["body"] = modeled(taken["body"], body)
        answer = module.sync_detailed(client=client, **given)
        if int(answer.status_code) >= 300:
            raise Refused(operation, answer)
        if int(answer.status_code) == 204:
            return answer.headers, None
        return answer.headers, answer.parsed.to_dict()

    def table(self, client, operation, select="", **query):
        """A report's table: CSV is what the client has no model of, so its
        request is sent as the client wrote it. A figure's selector is a whole
        query."""
        module = self.module(operation)
        taken = inspect.signature(module.sync_detailed).parameters
        given = {name if name in taken else f"{name}_": value for name, value in query.items()}
        request = module._get_kwargs(**given)
        request["params"] |= dict(parse_qsl(select, keep_blank_values=True))
        accepting = client.with_headers({"Accept": "text/csv"})
        answer = accepting.get_httpx_client().request(**request)
        if answer.status_code != 200:
            raise Refused(operation, answer)
        return list(csv.DictReader(io.StringIO(answer.text, newline="")))
