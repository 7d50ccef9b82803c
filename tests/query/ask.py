"""Asks exported tables with DuckDB and with PySpark, and holds streams to their schema.

    ask.py duckdb TABLES      aggregates as one JSON object
    ask.py spark TABLES       the same, by Spark
    ask.py schema SCHEMA      lines on standard input against a JSON Schema
"""

import json
import sys


def aggregates_duckdb(tables):
    import duckdb

    def table(name):
        return f"read_parquet('{tables}/{name}/**/*.parquet', hive_partitioning = true)"

    def rows(sql):
        return duckdb.sql(sql).fetchall()

    return {
        # The query of firmware-notes/other-tools.md, word for word but for the folder.
        "rises": rows(
            f"""SELECT sample, count(rise_degc), median(rise_degc), min(rise_degc), max(rise_degc)
                FROM {table("samples")} WHERE lamp_off_s - lamp_on_s BETWEEN 570 AND 630
                GROUP BY sample ORDER BY sample"""
        ),
        "readings": rows(
            f"""SELECT bench, sample, count(*), count(degc), min(degc), max(degc),
                       max(elapsed_s), CAST(epoch_ms(min(time_utc)) AS BIGINT)
                FROM {table("readings")} GROUP BY ALL ORDER BY bench, sample"""
        ),
        "marks": rows(f"""SELECT count(*), count(degc) FROM {table("marks")}"""),
        "partitions": [
            [str(v) for v in row]
            for row in rows(f"""SELECT DISTINCT site, date, bench FROM {table("samples")} ORDER BY ALL""")
        ],
    }


def aggregates_spark(tables):
    from pyspark.sql import SparkSession

    spark = (
        SparkSession.builder.master("local[2]")
        .config("spark.ui.enabled", "false")
        .config("spark.sql.session.timeZone", "UTC")
        .config("spark.sql.shuffle.partitions", "2")
        .getOrCreate()
    )
    spark.sparkContext.setLogLevel("ERROR")
    for name in ("samples", "readings", "marks"):
        spark.read.parquet(f"{tables}/{name}").createOrReplaceTempView(name)

    def rows(sql):
        return [list(row) for row in spark.sql(sql).collect()]

    found = {
        "rises": rows(
            """SELECT sample, count(rise_degc), median(rise_degc), min(rise_degc), max(rise_degc)
               FROM samples WHERE lamp_off_s - lamp_on_s BETWEEN 570 AND 630
               GROUP BY sample ORDER BY sample"""
        ),
        "readings": rows(
            """SELECT bench, sample, count(*), count(degc), min(degc), max(degc),
                      max(elapsed_s), unix_millis(min(time_utc))
               FROM readings GROUP BY bench, sample ORDER BY bench, sample"""
        ),
        "marks": rows("SELECT count(*), count(degc) FROM marks"),
        "partitions": [
            [str(v) for v in row]
            for row in rows("SELECT DISTINCT site, date, bench FROM samples ORDER BY site, date, bench")
        ],
    }
    spark.stop()
    return found


def validate(schema):
    from jsonschema import Draft202012Validator

    with open(schema) as text:
        schema = json.load(text)
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    wrong, count = [], 0
    for line in sys.stdin:
        count += 1
        errors = [e.message for e in validator.iter_errors(json.loads(line))]
        if errors and len(wrong) < 10:
            wrong.append({"line": line[:300], "errors": errors})
    return {"lines": count, "wrong": wrong}


what, where = sys.argv[1:]
ask = {"duckdb": aggregates_duckdb, "spark": aggregates_spark, "schema": validate}[what]
print(json.dumps(ask(where)))
