"""(c) The screening as a short polars script: `with_polars IN.csv FINDINGS.csv [RESULTS.csv LEDGER.csv]`.

Step for step what `with_pandas` does; (c+) with the last two arguments.
"""

from __future__ import annotations

import sys

import polars as pl

from tests.benchmarks.by_hand.levels import LEVELS, NEEDED, SUMS


def read(path: str) -> pl.DataFrame:
    """The file with dry value, limit, low and high of each row."""
    rows = pl.read_csv(path, schema_overrides={"Result": pl.String}, infer_schema_length=10_000)
    rows = rows.rename(lambda name: name.lower().replace(" ", "_"))
    rows = rows.with_columns(number=pl.col("result").cast(pl.Float64), detected=pl.col("qual").ne_missing("U"))
    solids = rows.filter(pl.col("analyte") == "Percent solids").select("sample_id", solids="number")
    rows = rows.join(solids, on="sample_id", how="left", maintain_order="left")
    wet = pl.col("basis") == "wet"
    rows = rows.with_columns(dry=pl.when(wet).then(pl.col("number") / (pl.col("solids") / 100.0)).otherwise("number"))
    found = pl.col("detected")
    return rows.with_columns(
        value=pl.when(found).then("dry"),
        limit=pl.when(~found).then("dry"),
        low=pl.when(found).then("dry").otherwise(0.0),
        high=pl.col("dry"),
    ).drop("dry", "number", "solids")


def summed(rows: pl.DataFrame, name: str, factor: float = 1.0) -> pl.DataFrame:
    """One sum for each sample that has a part of it."""
    found = pl.col("detected").any()
    return (
        rows.filter(pl.col("analyte").is_in(SUMS[name]))
        .group_by("sample_id", maintain_order=True)
        .agg(
            pl.col("station").first(),
            pl.lit(name).alias("substance"),
            pl.when(found).then(pl.col("low").sum() * factor).alias("value"),
            (pl.col("low").sum() * factor).alias("low"),
            (pl.col("high").sum() * factor).alias("high"),
            pl.when(~found).then(pl.col("limit").max() * factor).alias("limit"),
            found.alias("detected"),
            (pl.len() < NEEDED[name]).alias("partial"),
        )
    )


def pcbs(rows: pl.DataFrame) -> pl.DataFrame:
    """Total PCBs: all congeners, unless twice the 18 is complete and not less than their plain sum."""
    every, eighteen = summed(rows, "pcb-congeners"), summed(rows, "pcb-nst18x2", 2.0)
    both = every.join(eighteen.select("sample_id", "value", "partial"), on="sample_id", suffix="_18")
    larger = (pl.col("value") > pl.col("value_18") * (1 + 1e-12)).fill_null(value=False)
    larger = larger | (pl.col("value_18").is_null() & pl.col("value").is_not_null())
    take = both.filter(pl.col("partial") & ~pl.col("partial_18") & ~larger)["sample_id"].implode()
    chosen = [every.filter(~pl.col("sample_id").is_in(take)), eighteen.filter(pl.col("sample_id").is_in(take))]
    return pl.concat(chosen).with_columns(substance=pl.lit("Total PCBs"))


def findings_of(rows: pl.DataFrame) -> pl.DataFrame:
    """One row per sample and substance of the set, with its finding."""
    columns = ["sample_id", "station", "substance", "value", "low", "high", "limit", "detected", "partial"]
    singles = rows.filter(pl.col("analyte").is_in(list(LEVELS))).with_columns(partial=pl.lit(value=False))
    sums = [summed(rows, name).select(columns) for name in SUMS if not name.startswith("pcb-")]
    found = pl.concat([singles.rename({"analyte": "substance"}).select(columns), *sums, pcbs(rows).select(columns)])
    names, pairs = list(LEVELS), list(LEVELS.values())
    levels = pl.DataFrame(
        {"substance": names, "lower_level": [one for one, _ in pairs], "upper_level": [one for _, one in pairs]}
    ).with_columns(pl.col("lower_level", "upper_level").fill_nan(None))
    found = found.join(levels, on="substance", how="left")
    value, lower, upper = pl.col("value"), pl.col("lower_level"), pl.col("upper_level")
    above, between = ((value > level).fill_null(value=False) for level in (upper, lower))
    unknown = (value.is_null() & (pl.col("limit") > lower)).fill_null(value=False) | pl.col("partial")
    found = found.with_columns(
        lower_quotient=value / lower,
        upper_quotient=value / upper,
        finding=pl.when(above)
        .then(pl.lit("above"))
        .when(between)
        .then(pl.lit("between"))
        .when(unknown)
        .then(pl.lit("undetermined"))
        .otherwise(pl.lit("below")),
    )
    return found.drop("limit", "partial").sort("sample_id", "substance").rename({"sample_id": "sample"})


def main() -> None:
    """Read, compare, write."""
    source, findings, *more = sys.argv[1:]
    rows = read(source)
    findings_of(rows).write_csv(findings)
    if more:
        carbon = rows.filter(pl.col("analyte") == "Total organic carbon").select("sample_id", carbon="value")
        rows = rows.with_row_index("result_id", 1).join(carbon, on="sample_id", how="left", maintain_order="left")
        organic = (pl.col("unit") == "ug/kg") & pl.col("detected")
        per_carbon = pl.when(organic).then(pl.col("value") / 1000.0 / (pl.col("carbon") / 100.0))
        place = {"row": pl.col("result_id") + 1, "column": pl.lit("E")}
        results = rows.with_columns(oc_value=per_carbon, **place).drop("carbon").rename({"result": "reported"})
        results.write_csv(more[0])
        cells = pl.sum_horizontal(pl.all().exclude("result_id").is_not_null())
        read_cells = rows.select(rows.columns[1:13]).select(cells.alias("cells"))["cells"]
        ledger = rows.select(**place, cells=read_cells, text="result", became=pl.lit("result"), result_id="result_id")
        ledger.write_csv(more[1])


if __name__ == "__main__":
    main()
