"""What the YAML parser complains of, in words that help a reader who knows no YAML."""

from __future__ import annotations

from diagnose.model.foreign import in_message


def in_plain_words(problem: str, context: str, character: str) -> tuple[str, bool]:
    """The sentence, and whether it speaks of the place where the parser's context starts.

    `problem` and `context` are the parser's words, which differ between its two builds; `character` stands at the
    problem's place.
    """
    if ("end of stream" in problem and "scanning a quoted" in context) or "unexpected document" in problem:
        return "not YAML: the quote that opens here is not closed", True
    if character == "\t":
        return "not YAML: a tab stands here; indent with spaces only", False
    if "nesting depth" in problem:
        return "nested too deep to be read", False
    if "cannot start any token" in problem:
        return f"not YAML: text that starts with {character!r} must stand in quotes", False
    return f"not YAML: {_hint(problem, context) or in_message(problem or context)}", False


def _hint(problem: str, context: str) -> str:
    if "mapping values are not allowed" in problem:
        return "': ' is not expected here; text that holds it needs quotes, and keys of one mapping start in one column"
    if "parsing a flow" in context:
        return "no list or mapping goes on like this; close every [ and {, and put text that holds []{}, in quotes"
    if "parsing a block" in context or "document start" in problem:
        return "this line does not fit those above it; lines that belong together start in one column"
    if "simple key" in context:
        return "expected 'key: value'"
    return ""
