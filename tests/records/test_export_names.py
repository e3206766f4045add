"""What a table of an export declares: names that any database takes as they are, types that are
those of the records, and nothing of a record left out unsaid."""

from __future__ import annotations

import sqlite3
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import msgspec
import pytest

from counter.reports.schema import TAIL, Kind
from counter.reports.tables import ALL
from counter.shop.desk import TABLES
from tests.conftest import ShopInHand

# ISO/IEC 9075-2:2016, 5.2 <token>, <reserved word> (from memory).
SQL_2016 = """
    ABS ACOS ALL ALLOCATE ALTER AND ANY ARE ARRAY ARRAY_AGG ARRAY_MAX_CARDINALITY AS ASENSITIVE
    ASIN ASYMMETRIC AT ATAN ATOMIC AUTHORIZATION AVG BEGIN BEGIN_FRAME BEGIN_PARTITION BETWEEN
    BIGINT BINARY BLOB BOOLEAN BOTH BY CALL CALLED CARDINALITY CASCADED CASE CAST CEIL CEILING CHAR
    CHARACTER CHARACTER_LENGTH CHAR_LENGTH CHECK CLASSIFIER CLOB CLOSE COALESCE COLLATE COLLECT
    COLUMN COMMIT CONDITION CONNECT CONSTRAINT CONTAINS CONVERT COPY CORR CORRESPONDING COS COSH
    COUNT COVAR_POP COVAR_SAMP CREATE CROSS CUBE CUME_DIST CURRENT CURRENT_CATALOG CURRENT_DATE
    CURRENT_PATH CURRENT_ROLE CURRENT_ROW CURRENT_SCHEMA CURRENT_TIME CURRENT_TIMESTAMP CURRENT_USER
    CURSOR CYCLE DATE DAY DEALLOCATE DEC DECFLOAT DECIMAL DECLARE DEFAULT DEFINE DELETE DENSE_RANK
    DEREF DESCRIBE DETERMINISTIC DISCONNECT DISTINCT DOUBLE DROP DYNAMIC EACH ELEMENT ELSE EMPTY END
    END_FRAME END_PARTITION EQUALS ESCAPE EVERY EXCEPT EXEC EXECUTE EXISTS EXP EXTERNAL EXTRACT
    FALSE FETCH FILTER FIRST_VALUE FLOAT FLOOR FOR FOREIGN FRAME_ROW FREE FROM FULL FUNCTION FUSION
    GET GLOBAL GRANT GROUP GROUPING GROUPS HAVING HOLD HOUR IDENTITY IN INDICATOR INITIAL INNER
    INOUT INSENSITIVE INSERT INT INTEGER INTERSECT INTERSECTION INTERVAL INTO IS JOIN JSON_ARRAY
    JSON_ARRAYAGG JSON_EXISTS JSON_OBJECT JSON_OBJECTAGG JSON_QUERY JSON_TABLE JSON_VALUE LAG
    LANGUAGE LARGE LAST_VALUE LATERAL LEAD LEADING LEFT LIKE LIKE_REGEX LISTAGG LN LOCAL LOCALTIME
    LOCALTIMESTAMP LOG LOG10 LOWER MATCH MATCHES MATCH_NUMBER MATCH_RECOGNIZE MAX MEASURES MEMBER
    MERGE METHOD MIN MINUTE MOD MODIFIES MODULE MONTH MULTISET NATIONAL NATURAL NCHAR NCLOB NEW NO
    NONE NORMALIZE NOT NTH_VALUE NTILE NULL NULLIF NUMERIC OCCURRENCES_REGEX OCTET_LENGTH OF OFFSET
    OLD OMIT ON ONE ONLY OPEN OR ORDER OUT OUTER OVER OVERLAPS OVERLAY PARAMETER PARTITION PATTERN
    PER PERCENT PERCENTILE_CONT PERCENTILE_DISC PERCENT_RANK PERIOD PERMUTE PORTION POSITION
    POSITION_REGEX POWER PRECEDES PRECISION PREPARE PRIMARY PROCEDURE PTF RANGE RANK READS REAL
    RECURSIVE REF REFERENCES REFERENCING REGR_AVGX REGR_AVGY REGR_COUNT REGR_INTERCEPT REGR_R2
    REGR_SLOPE REGR_SXX REGR_SXY REGR_SYY RELEASE RESULT RETURN RETURNS REVOKE RIGHT ROLLBACK ROLLUP
    ROW ROWS ROW_NUMBER RUNNING SAVEPOINT SCOPE SCROLL SEARCH SECOND SEEK SELECT SENSITIVE
    SESSION_USER SET SHOW SIMILAR SIN SINH SKIP SMALLINT SOME SPECIFIC SPECIFICTYPE SQL SQLEXCEPTION
    SQLSTATE SQLWARNING SQRT START STATIC STDDEV_POP STDDEV_SAMP SUBMULTISET SUBSET SUBSTRING
    SUBSTRING_REGEX SUCCEEDS SUM SYMMETRIC SYSTEM SYSTEM_TIME SYSTEM_USER TABLE TABLESAMPLE TAN TANH
    THEN TIME TIMESTAMP TIMEZONE_HOUR TIMEZONE_MINUTE TO TRAILING TRANSLATE TRANSLATE_REGEX
    TRANSLATION TREAT TRIGGER TRIM TRIM_ARRAY TRUE TRUNCATE UESCAPE UNION UNIQUE UNKNOWN UNMATCHED
    UNNEST UPDATE UPPER USER USING VALUE VALUES VALUE_OF VARBINARY VARCHAR VARYING VAR_POP VAR_SAMP
    VERSIONING WHEN WHENEVER WHERE WIDTH_BUCKET WINDOW WITH WITHIN WITHOUT YEAR
"""
NAMES = sorted({*(k.name for k in ALL), *(c.name for k in ALL for c in k.columns)})
HOLDS = {
    "text": str, "day": date, "moment": datetime, "whole": int, "number": Decimal, "money": int,
    "flag": bool,
}  # fmt: skip
# What no table tells, and where else it stands.
LEFT_OUT = {
    "answers": {"basis"},
    "batches": {"ingredients", "codes"},  # in the table of that name
    "checks": {"anew"},
    "closings": {
        "answers", "available", "carried", "corrections", "day", "explained", "hours",
        "named", "places", "sold_out_at", "taxes", "tubs", "yields",
    },
    "holds": {"reasons"},  # one by one; together they stand in the table
    "lost": {"behind"},
    "mendings": {"least", "mark", "told"},  # the mark stands in each row; in words what the table of what was lost says
    "reopenings": {"carried", "cash", "day", "places", "sealed", "tubs"},
    "sales": {"content", "key"},
}  # fmt: skip


def test_no_name_is_a_reserved_word_of_the_standard() -> None:
    assert [name for name in NAMES if name.upper() in SQL_2016.split()] == []
    assert all(name.isascii() and name.replace("_", "").isalnum() for name in NAMES)


def test_no_name_is_a_reserved_word_of_duckdb() -> None:
    sql = "select keyword_name from duckdb_keywords() where keyword_category <> 'unreserved'"
    words = {word for (word,) in duckdb.sql(sql).fetchall()}
    # What may be a column and no function or type is a name as good as any.
    free = "select keyword_name from duckdb_keywords() where keyword_category = 'column_name'"
    words -= {word for (word,) in duckdb.sql(free).fetchall()}
    assert "table" in words
    assert not words & set(NAMES)


@pytest.mark.parametrize("engine", [sqlite3, duckdb])
@pytest.mark.parametrize("kind", ALL, ids=lambda kind: kind.name)
def test_a_database_takes_every_name_without_quotes(kind: Kind, engine: Any) -> None:
    names = ", ".join(column.name for column in kind.columns)
    with engine.connect(":memory:") as con:
        con.execute(f"create table {kind.name} ({names.replace(',', ' int,')} int)")
        con.execute(f"insert into {kind.name} ({names}) select {names} from {kind.name}")
        con.execute(f"select t.{names.split(', ')[0]} as a from {kind.name} t order by {names}")


def test_two_columns_of_a_table_cannot_change_places(hand: ShopInHand) -> None:
    # A cell is read by what its column declares: the columns in any order give the same cells.
    for source, place, record in hand.shop.exports.leaving({kind.source for kind in ALL}):
        for kind in (k for k in ALL if k.source == source):
            turned = kind.columns[::-1]
            rows = [row[::-1] for row in kind.rows(place, record, turned)]
            assert rows == list(kind.rows(place, record, kind.columns))


def test_every_cell_is_of_the_type_that_its_column_declares(hand: ShopInHand) -> None:
    seen: dict[tuple[str, str], int] = {}
    for source, place, record in hand.shop.exports.leaving({kind.source for kind in ALL}):
        for kind in (k for k in ALL if k.source == source):
            for row in kind.rows(place, record, kind.columns):
                for cell, column in zip(row, kind.columns, strict=True):
                    said = f"{kind.name}.{column.name}: {cell!r} is no {column.type}"
                    assert cell is None or type(cell) is HOLDS[column.type], said
                    seen[kind.name, column.name] = 1
    assert len(seen) > 200


@pytest.mark.parametrize("table", sorted({k.source for k in ALL} & set(TABLES) - {"catalogues"}))
def test_every_field_of_a_record_is_in_a_table_or_left_out_by_name(table: str) -> None:
    # What a correction of money is of, its sales or its drawer, depends on what it corrects.
    aliases = {"taken": "money", "in_drawer": "drawer"}
    paths = {c.path.partition(".")[0] for k in ALL if k.source == table for c in k.columns}
    fields = {f.name for f in msgspec.structs.fields(TABLES[table])}
    told = {aliases.get(path, path) for path in paths}
    assert fields - told == LEFT_OUT.get(table, set())


def test_a_new_column_comes_at_the_end_and_no_two_change_places() -> None:
    # Who reads a file by the place of a column, and a lake of years, must go on being right.
    written = (Path(__file__).parent / "columns.txt").read_text("utf-8").splitlines()
    known = {line.partition(" ")[0]: line.split()[1:] for line in written}
    for kind in ALL:
        now = [f"{c.name}:{c.type}" for c in kind.lasting[: -len(TAIL)]]
        before = known.get(kind.name, [])
        assert now[: len(before)] == before, f"{kind.name}: new columns come at its end"
        assert now == before, f"{kind.name}: write the new column down in columns.txt"
    assert list(known) == [kind.name for kind in ALL]
    assert [f"{c.name}:{c.type}" for c in TAIL] == [
        "shop_id:text", "shop_name:text", "currency:text", "time_zone:text",
    ]  # fmt: skip
