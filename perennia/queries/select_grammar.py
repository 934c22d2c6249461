"""What a query may say: one SELECT over the garden's views, held against its syntax tree.

DuckDB calls a statement a SELECT even when an INSERT or a COPY stands in its WITH clause (measured on 2.0.1: both
did write), so the kind of the statement proves nothing. The tree is walked instead, and whatever is not on a
list here is refused: a node that a later DuckDB adds stays out until someone has read what it does.
"""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Collection
from functools import lru_cache
from typing import Any, NoReturn, TypeAlias

import duckdb

from perennia.errors import QueryLimitError, QueryRefusedError
from perennia.queries.allowed_functions import ALLOWED_FUNCTIONS

LONGEST_QUERY = 100_000
# Text that is no SQL makes the parser's time and memory grow with the square of the brackets left open and of the
# signs in a row: 3,000 took 4 s and 1.2 GB, 10,000 did not end; 500 take 0.1 s.
DEEPEST_BRACKETS = 200
_SIGNS_IN_A_ROW = re.compile(r"[-+](?:\s*[-+]){500}")

# columns of the views whose names are words of SQL too
_WORD_OF_SQL = re.compile(r'near "(on|end|set|into|table)"')
_TABLE_FUNCTIONS = frozenset({"range", "generate_series", "unnest"})
_QUERY_NODES = frozenset({"SELECT_NODE", "SET_OPERATION_NODE", "RECURSIVE_CTE_NODE"})
_SOURCES = frozenset({"BASE_TABLE", "JOIN", "SUBQUERY", "EMPTY", "EXPRESSION_LIST", "TABLE_FUNCTION"})
_MODIFIERS = frozenset({"ORDER_MODIFIER", "LIMIT_MODIFIER", "DISTINCT_MODIFIER"})
_SORT_ORDERS = frozenset({"ORDER_DEFAULT", "ASCENDING", "DESCENDING"})
_EXPRESSIONS = frozenset(
    {"BETWEEN", "CASE", "CAST", "COLLATE", "COLUMN_REF", "COMPARISON", "CONJUNCTION", "CONSTANT", "FUNCTION"}
    | {"LAMBDA", "OPERATOR", "PARAMETER", "POSITIONAL_REFERENCE", "STAR", "SUBQUERY", "TYPE", "WINDOW"}
)
# Members of the small structures that carry no type of their own: WITH entries, literals, arguments, samples.
_UNTYPED_MEMBERS = frozenset(
    {"node", "named_param_map", "map", "key", "value"}
    | {"aliases", "key_targets", "materialized", "payload_aggregates", "query_node"}
    | {"literal", "kind", "text", "path", "expression", "name", "when_expr", "then_expr"}
    | {"catalog", "schema", "table", "column", "type", "id", "type_info", "is_null"}
    | {"is_percentage", "method", "repeatable", "sample_rate", "sample_size", "seed"}
)
_IN_WORDS = {
    "SHOW_REF": "describe, show or summarize",
    "PIVOT": "pivot or unpivot",
    "INSERT_QUERY_NODE": "an insert",
    "UPDATE_QUERY_NODE": "an update",
    "DELETE_QUERY_NODE": "a delete",
    "MERGE_QUERY_NODE": "a merge",
    "COPY_QUERY_NODE": "a copy",
}

Scope: TypeAlias = frozenset[str]


def check_select(query: str, views: Collection[str]) -> None:
    """Let a query pass only if it is one SELECT over views, the query's own named parts and allowed functions.

    query is DuckDB SQL with ``?`` or ``$name`` parameters; views are the names it may read from.
    In FROM stand views, names from WITH, subqueries, VALUES, range, generate_series and unnest; elsewhere the
    functions of perennia.queries.allowed_functions. A name given in WITH is a plain word and not a view's name.
    Nothing of the query is run.

    Raises QueryRefusedError, saying what was refused and what is allowed; QueryLimitError when reading the text alone
    takes more memory than there is.
    """
    _refuse_unreadable(query)
    statements, tree = _parse(query)
    _refuse_other_statements(statements)
    in_scope = frozenset(view.lower() for view in views)
    pending: list[tuple[Any, Scope]] = [(_syntax_tree(tree), in_scope)]
    while pending:
        part, names = pending.pop()
        if isinstance(part, list):
            pending.extend((item, names) for item in part)
        elif isinstance(part, dict):
            pending.extend(_checked_parts(part, names, views))


def _refuse_unreadable(query: str) -> None:
    if not isinstance(query, str):
        raise QueryRefusedError(f"a query is text, not {type(query).__name__}; write it as select ... from a view")
    if len(query) > LONGEST_QUERY:
        raise QueryRefusedError(
            f"the query is {len(query)} characters long; at most {LONGEST_QUERY} are read: pass values as parameters"
        )
    if "\0" in query or not _is_unicode(query):
        raise QueryRefusedError("the query holds a character that is no text (NUL or half a surrogate pair); remove it")
    if _SIGNS_IN_A_ROW.search(query):
        raise QueryRefusedError("the query holds more than 500 plus or minus signs in a row; shorten the row")
    depth = deepest = 0
    for character in query:
        depth += (character in "([{") - (character in ")]}")
        deepest = max(deepest, depth)
    if deepest > DEEPEST_BRACKETS:
        raise QueryRefusedError(
            f"brackets are nested {deepest} deep; at most {DEEPEST_BRACKETS} are read: name the parts in a WITH clause"
        )


def _is_unicode(query: str) -> bool:
    try:
        query.encode()
    except UnicodeEncodeError:
        return False
    return True


@lru_cache(maxsize=1)
def _parser() -> duckdb.DuckDBPyConnection:
    """An empty database that only ever parses; the garden's own connection is not touched before the check."""
    connection = duckdb.connect(":memory:", config={"threads": 1})
    for setting in ("python_enable_replacements", "enable_external_access"):
        connection.execute(f"set {setting} = false")
    return connection


def _parse(query: str) -> tuple[list[duckdb.Statement], str]:
    """The statements as DuckDB would run them, and the JSON of their syntax tree."""
    try:
        with _parser().cursor() as parser:
            statements = parser.extract_statements(query)
            (tree,) = parser.execute("select json_serialize_sql(?)", [query]).fetchall()[0]
    except duckdb.OutOfMemoryException as error:
        raise QueryLimitError("reading the query takes more memory than there is; write it shorter") from error
    except duckdb.Error as error:
        said = first_line(error)
        word = _WORD_OF_SQL.search(said)
        hint = f'; where a column is meant, put it in quotation marks: "{word[1]}"' if word else ""
        raise QueryRefusedError(f"the query cannot be read: {said}{hint}") from error
    return statements, tree


def _refuse_other_statements(statements: list[duckdb.Statement]) -> None:
    if len(statements) != 1:
        found = "no statement" if not statements else f"{len(statements)} statements"
        raise QueryRefusedError(f"the text holds {found}; give exactly one SELECT")
    kind = statements[0].type
    if kind == duckdb.StatementType.MULTI:
        _refuse("pivot or unpivot", "count the columns out with sum(...) filter (where ...)")
    if kind != duckdb.StatementType.SELECT:
        _refuse(f"a statement of the kind {kind.name.lower().replace('_', ' ')}", "give one SELECT")


def first_line(error: BaseException) -> str:
    """DuckDB's sentence without its class of error and without the excerpt of the query."""
    line = str(error).strip().partition("\n")[0]
    kind, separator, rest = line.partition(" Error: ")
    return rest if separator and len(kind) < 30 else line


def _syntax_tree(tree: str) -> Any:
    try:
        answer = json.loads(tree)
    except RecursionError as error:
        raise QueryRefusedError("the query is nested too deeply to be checked; name parts in a WITH clause") from error
    if answer["error"]:
        raise QueryRefusedError(f"the query cannot be checked: {answer['error_message']}; give one plain SELECT")
    if len(answer["statements"]) != 1:
        raise QueryRefusedError("the text holds several statements; give exactly one SELECT")
    return answer["statements"]


def _checked_parts(part: dict[str, Any], names: Scope, views: Collection[str]) -> list[tuple[Any, Scope]]:
    """Check one structure of the tree itself; return its members with the names they may read from."""
    kind = part.get("type")
    if "class" in part:
        _check_expression(part)
    elif isinstance(kind, str):
        if kind in _QUERY_NODES:
            return _members_of_query(part, names, views)
        if kind in _SOURCES:
            _check_source(part, names, views)
        elif kind not in _MODIFIERS | _SORT_ORDERS:
            _refuse(_IN_WORDS.get(kind, kind.lower().replace("_", " ")))
    elif not _UNTYPED_MEMBERS.issuperset(part):
        _refuse(f"a part with {', '.join(sorted(part.keys() - _UNTYPED_MEMBERS))}")
    return [(member, names) for member in part.values()]


def _members_of_query(node: dict[str, Any], names: Scope, views: Collection[str]) -> list[tuple[Any, Scope]]:
    """The members of a query with their scope.

    The scope is exact, because a name out of scope falls through to DuckDB's catalogue: `sqlite_master` defined
    in one WITH must not open the catalogue's table of that name to the rest of the query, nor to its own body.
    """
    members: list[tuple[Any, Scope]] = []
    for entry in node["cte_map"]["map"]:
        _check_with_name(entry["key"], views)
        members.append((entry["value"], names))
        names = names | {entry["key"].lower()}
    if node["type"] == "RECURSIVE_CTE_NODE":
        members.append((node["left"], names))
        members.append((node["right"], names | {node["cte_name"].lower()}))
        skipped = {"cte_map", "left", "right"}
    else:
        skipped = {"cte_map"}
    members.extend((member, names) for key, member in node.items() if key not in skipped)
    return members


def _check_with_name(name: str, views: Collection[str]) -> None:
    if not name.isidentifier():
        _refuse(f"the name {name!r} in a WITH clause", "use letters, digits and underscores")
    if name.lower() in {view.lower() for view in views}:
        _refuse(f"the name {name} in a WITH clause, which hides the view of that name", "choose another name")


def _check_source(source: dict[str, Any], names: Scope, views: Collection[str]) -> None:
    if source["type"] == "TABLE_FUNCTION":
        function = _path(source["function"])
        if len(function) != 1 or function[0].lower() not in _TABLE_FUNCTIONS:
            _refuse(f"the table function {'.'.join(function)}", "in FROM use range, generate_series or unnest")
    elif source["type"] == "BASE_TABLE":
        table = _path(source)
        if len(table) != 1 or source["catalog_name"] or source["schema_name"]:
            _refuse(f"the qualified name {'.'.join(table)}", "name a view alone")
        if source["at_clause"]:
            _refuse("a past version by AT", "open the garden as of that day")
        if source["table_name"] != table[0] or table[0].lower() not in names:
            _refuse(f"the table {table[0]!r}", _nearest(table[0], views))


def _check_expression(expression: dict[str, Any]) -> None:
    kind = expression["class"]
    if kind not in _EXPRESSIONS:
        _refuse(f"the expression {str(kind).lower()}")
    if kind in ("FUNCTION", "WINDOW"):
        # A qualifier is left alone: in `label.upper()` it is the column the function works on.
        spelled = {_path(expression)[-1].lower(), expression["function_name"].lower()}
        for name in sorted(spelled - ALLOWED_FUNCTIONS):
            close = difflib.get_close_matches(name, ALLOWED_FUNCTIONS)
            _refuse(f"the function {name}", f"close to it are {', '.join(close)}" if close else "")


def _path(part: dict[str, Any]) -> list[str]:
    path: list[str] = part["qualified_name"]["path"]
    return path


def _nearest(name: str, views: Collection[str]) -> str:
    close = difflib.get_close_matches(name.lower(), sorted(views))
    return f"close to it: {', '.join(close)}" if close else f"the views are {', '.join(sorted(views))}"


def _refuse(what: str, instead: str = "") -> NoReturn:
    raise QueryRefusedError(
        f"refused: {what}; a query is one SELECT over the garden's views" + (f" ({instead})" if instead else "")
    )
