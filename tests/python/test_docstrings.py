"""What help() says: every public name has words and a signature, those of the stub, and its examples are true."""

import doctest
import inspect
from collections.abc import Iterator

import pytest

import groundstate as gs
from tools import docstrings

#: Values, not functions or classes: their words stand where they are made.
VALUES = {"ND", "COLUMN_FLAGS", "__version__"}
HEADS = ("Args:", "Returns:", "Raises:", "Source:", "Example:")


def named() -> Iterator[tuple[str, object]]:
    """Every public name, those of the public modules too."""
    for name in gs.__all__:
        thing = getattr(gs, name)
        if inspect.ismodule(thing):
            yield from ((f"{name}.{inner}", getattr(thing, inner)) for inner in thing.__all__)
        elif name not in VALUES:
            yield name, thing


def public() -> Iterator[tuple[str, object]]:
    """Every public function and class with its public members, by name."""
    for name, thing in named():
        yield name, thing
        for member in vars(thing) if isinstance(thing, type) else ():
            inner = inspect.getattr_static(thing, member)
            if not member.startswith("_") and (callable(getattr(thing, member)) or inspect.isdatadescriptor(inner)):
                yield f"{name}.{member}", getattr(thing, member)


def examples() -> list[doctest.DocTest]:
    parser = doctest.DocTestParser()
    tests = [parser.get_doctest(inspect.getdoc(thing) or "", {}, name, None, None) for name, thing in public()]
    return [test for test in tests if test.examples]


def test_the_compiled_part_says_what_its_stub_says() -> None:
    assert docstrings.differences() == []


def test_every_public_name_has_words() -> None:
    assert [name for name, thing in public() if not inspect.getdoc(thing)] == []


def test_every_public_function_has_a_signature() -> None:
    functions = [(name, thing) for name, thing in public() if inspect.isroutine(thing)]
    assert len(functions) > 50
    for name, function in functions:
        assert inspect.signature(function).parameters is not None, name


def test_arguments_that_are_described_exist_and_all_of_them_are_described() -> None:
    wrong = {}
    for name, function in public():
        text = inspect.getdoc(function) or ""
        if not inspect.isroutine(function) or "Args:\n" not in text:
            continue
        lines = text.partition("Args:\n")[2].splitlines()
        section = lines[: next((at for at, line in enumerate(lines) if line in HEADS), len(lines))]
        heads = [line.strip().partition(": ")[0] for line in section if line.startswith("    ") and line[4] != " "]
        described = [word for head in heads for word in head.split(", ")]
        taken = [word for word in inspect.signature(function).parameters if word != "self"]
        if sorted(described) != sorted(taken):
            wrong[name] = sorted(set(described) ^ set(taken))
    assert wrong == {}


@pytest.mark.parametrize("test", examples(), ids=lambda test: test.name)
def test_examples_are_true(test: doctest.DocTest) -> None:
    said: list[str] = []
    result = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS).run(test, out=said.append)
    assert result.attempted and not result.failed, "".join(said)


def test_there_are_examples() -> None:
    assert len(examples()) >= 18
