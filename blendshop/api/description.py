"""What the description of the API says of every operation, beside its own shapes.

The shapes name fields and kinds; that the strict reader refuses unknown keys, takes null for
"not given" and reads no endless number holds for all of them and is written here once.
"""

from typing import Any, Final

#: Answers that any operation may give, each with the one shape of an error.
_REFUSALS: Final = {
    "400": "Fields need correcting; each is named under fields.",
    "401": "Nobody is signed in: send a token, or sign in.",
    "403": "Your role may not ask this.",
    "404": "There is nothing at this address.",
    "405": "This address takes another method.",
    "406": "The answer is JSON only.",
    "411": "A body needs its length.",
    "413": "The body is too large.",
    "415": "The body must be JSON.",
    "422": "The question takes more work than one may: ask less at once.",
    "429": "Too many questions at once: try again after the seconds in Retry-After.",
}
_ERROR: Final = {"$ref": "#/components/schemas/ErrorShape"}
_REQUEST: Final = "Request"
#: As ``formulas.contracts.strict_json`` reads; a test compares.
LARGEST_NUMBER: Final = 1e9
LONGEST_TEXT: Final = 400


def with_what_holds_for_all(
    result: dict[str, Any],
    generator: Any,
    request: Any,
    public: bool,  # noqa: FBT001 - its signature
) -> dict[str, Any]:
    """Post-processing hook of drf_spectacular."""
    for operations in result["paths"].values():
        for operation in operations.values():
            _add_refusals(operation["responses"])
    for name, component in result["components"]["schemas"].items():
        if name.endswith(_REQUEST):
            _as_read(component)
    return result


def _add_refusals(responses: dict[str, Any]) -> None:
    for status, words in _REFUSALS.items():
        content = {"application/json": {"schema": _ERROR}}
        responses[status] = {"content": content, "description": words}


def _as_read(component: dict[str, Any]) -> None:
    """An object of a request as the strict reader takes it."""
    component["additionalProperties"] = False
    required = component.get("required", ())
    for name, field in component.get("properties", {}).items():
        _bounded(field)
        if name not in required:
            component["properties"][name] = _or_null(field)


def _bounded(field: dict[str, Any]) -> None:
    kind = field.get("type")
    if kind in {"number", "integer"}:
        field.setdefault("minimum", -LARGEST_NUMBER)
        field.setdefault("maximum", LARGEST_NUMBER)
        field.pop("format", None)
    elif kind == "string" and "enum" not in field and "pattern" not in field:
        # Not of blanks alone, and without the character that no text has.
        field["pattern"] = r"^[^\u0000]*[^\s\u0000][^\u0000]*$"
        field["minLength"], field["maxLength"] = 1, LONGEST_TEXT
    elif kind == "array":
        _bounded(field["items"])
    elif isinstance(field.get("additionalProperties"), dict):
        _bounded(field["additionalProperties"])


def _or_null(field: dict[str, Any]) -> dict[str, Any]:
    """OpenAPI 3.0 wants the word beside a type, and null among the choices."""
    if "$ref" in field:
        return {"allOf": [field], "nullable": True}
    if "enum" in field:
        return {**field, "enum": [*field["enum"], None], "nullable": True}
    return {**field, "nullable": True}
