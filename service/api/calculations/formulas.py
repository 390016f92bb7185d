"""The public formulas, read from their own docstrings: inputs with unit and range, result, source, example.

One parser for the template all formulas keep: each line of Args is `name: meaning. [unit] low..high`.
"""

import ast
import doctest
import importlib
import inspect
import math
import pkgutil
import re
import typing
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Any

import service.science
from service.api.calculations.formula_types import encode, field_hints, is_named_tuple, kind_of, speaks_json
from service.facts import Fact

# Guards and helpers over arrays are no formulas.
NOT_FORMULAS = ("arrays", "checks", "series", "temperature_days")
INPUT = re.compile(
    r"(?P<name>\w+): (?P<meaning>.*?)\s*\[(?P<unit>[^\]]*)\](?:\s+(?P<range>\S+))?$", re.DOTALL
)
RESULT = re.compile(r"(?P<meaning>.*?)\s*\[(?P<unit>[^\]]*)\]$", re.DOTALL)


class Input(Fact, frozen=True, kw_only=True):
    """One input of a formula; a bound of None is no bound."""

    name: str
    meaning: str
    unit: str
    low: float | None
    high: float | None
    kind: str
    hint: Any
    is_required: bool
    default: Any


class Formula(Fact, frozen=True, kw_only=True):
    """A formula, and what its docstring says of it."""

    name: str
    topic: str
    summary: str
    explanation: str
    inputs: tuple[Input, ...]
    result: str
    unit: str
    source: str
    example: Mapping[str, Any] | None
    function: Callable[..., Any]


@cache
def all_formulas() -> Mapping[str, Formula]:
    """Every public formula by name, in the order of topic and file."""
    found: dict[str, Formula] = {}
    for module in pkgutil.iter_modules(service.science.__path__):
        if module.name not in NOT_FORMULAS:
            for function in _functions(f"{service.science.__name__}.{module.name}"):
                found[function.__name__] = read_formula(function, topic=module.name)
    return found


def _functions(module_name: str) -> Iterator[Callable[..., Any]]:
    module = importlib.import_module(module_name)
    for name, thing in vars(module).items():
        if inspect.isfunction(thing) and thing.__module__ == module_name and is_formula(name, thing):
            yield thing


def is_formula(name: str, function: Callable[..., Any]) -> bool:
    """Whether a function is one for callers: public, no guard, all of it sayable in JSON."""
    if name.startswith(("_", "check_")):
        return False
    hints = typing.get_type_hints(function)
    result = hints.pop("return")
    return (is_named_tuple(result) or speaks_json(result)) and all(map(speaks_json, hints.values()))


def read_formula(function: Callable[..., Any], *, topic: str) -> Formula:
    """Read a formula from its signature and its docstring.

    Raises:
        ValueError: the docstring does not keep the template.

    """
    doc = inspect.cleandoc(function.__doc__ or "")
    parts = _parts(doc)
    result = RESULT.match(parts["Returns"])
    if result is None:
        raise ValueError(f"{function.__name__}: Returns has no unit")
    return Formula(
        name=function.__name__,
        topic=topic,
        summary=parts["summary"],
        explanation=parts["explanation"],
        inputs=tuple(_inputs(function, parts.get("Args", ""))),
        result=result["meaning"].rstrip("."),
        unit=_plain_unit(result["unit"]),
        source=parts["Source"].rstrip("."),
        example=_example(function, doc),
        function=function,
    )


def _parts(doc: str) -> dict[str, str]:
    """The docstring cut at its headings; what is indented under one is joined, an argument per line."""
    text = doc.split(">>>", 1)[0]
    head, *_ = re.split(r"^(?:Args|Returns|Raises|Source):", text, maxsplit=1, flags=re.MULTILINE)
    summary, _, explanation = head.strip().partition("\n\n")
    parts = {"summary": _joined(summary), "explanation": _joined(explanation)}
    for found in re.finditer(
        r"^(Args|Returns|Raises|Source):(.*?)(?=^(?:Args|Returns|Raises|Source):|\Z)", text, re.M | re.S
    ):
        name, body = found[1], found[2]
        parts[name] = re.sub(r"\n {5,}", " ", body) if name == "Args" else _joined(body)
    return parts


def _joined(text: str) -> str:
    return " ".join(text.split())


def _inputs(function: Callable[..., Any], args: str) -> Iterator[Input]:
    hints = typing.get_type_hints(function)
    told = {m["name"]: m for line in args.splitlines() if (m := INPUT.match(line.strip()))}
    for name, parameter in inspect.signature(function).parameters.items():
        if name not in told:
            raise ValueError(f"{function.__name__}: Args does not tell of {name} with its unit")
        low, high = _range(told[name]["range"])
        is_required = parameter.default is inspect.Parameter.empty
        yield Input(
            name=name,
            meaning=_joined(told[name]["meaning"]).rstrip("."),
            unit=_plain_unit(told[name]["unit"]),
            low=low,
            high=high,
            kind=kind_of(hints[name]),
            hint=hints[name],
            is_required=is_required,
            default=None if is_required else parameter.default,
        )


def _plain_unit(unit: str) -> str:
    return "" if unit == "-" else unit


def _range(text: str | None) -> tuple[float | None, float | None]:
    if text is None or ".." not in text:
        return None, None
    low, _, high = text.partition("..")
    bounds = [float(low), float(high)]
    return (bounds[0] if math.isfinite(bounds[0]) else None, bounds[1] if math.isfinite(bounds[1]) else None)


def _example(function: Callable[..., Any], doc: str) -> Mapping[str, Any] | None:
    """The inputs of the docstring's own example as JSON, where they are plain."""
    for example in doctest.DocTestParser().get_examples(doc):
        node = ast.parse(example.source.strip()).body[0]
        value = node.value if isinstance(node, ast.Expr) else None
        while isinstance(value, ast.Attribute | ast.Subscript | ast.Compare):
            value = value.left if isinstance(value, ast.Compare) else value.value
        if isinstance(value, ast.Call) and _name(value.func) == function.__name__:
            try:
                return {str(k.arg): _plain(k.value, function.__globals__) for k in value.keywords}
            except (ValueError, KeyError):
                return None
    return None


def _name(node: ast.expr) -> str | None:
    return node.id if isinstance(node, ast.Name) else None


def _plain(node: ast.expr, names: Mapping[str, Any]) -> Any:
    """An example's value: a literal, a constant of the module, or a small object as its fields."""
    if isinstance(node, ast.Name):
        return encode(names[node.id])
    if isinstance(node, ast.List | ast.Tuple):
        return [_plain(part, names) for part in node.elts]
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        fields = list(field_hints(names[node.func.id]))
        placed = dict(zip(fields, (_plain(part, names) for part in node.args), strict=False))
        return {**placed, **{str(k.arg): _plain(k.value, names) for k in node.keywords}}
    if isinstance(node, ast.Dict):
        return {
            ast.literal_eval(name): _plain(value, names)
            for name, value in zip(node.keys, node.values, strict=True)
            if name is not None
        }
    return ast.literal_eval(node)
