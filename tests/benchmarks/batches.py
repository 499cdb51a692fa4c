"""Made-up batches for timing: a long CSV of any size, seeded, invented figures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

__all__ = ["write_long_csv"]

METALS = "Arsenic Cadmium Chromium Copper Lead Mercury Nickel Silver Zinc Antimony".split()
PAHS = [
    "Naphthalene", "2-Methylnaphthalene", "Acenaphthylene", "Acenaphthene", "Fluorene", "Phenanthrene", "Anthracene",
    "Fluoranthene", "Pyrene", "Benz(a)anthracene", "Chrysene", "Benzo(b)fluoranthene", "Benzo(k)fluoranthene",
    "Benzo(a)pyrene", "Indeno(1,2,3-cd)pyrene", "Dibenz(a,h)anthracene", "Benzo(g,h,i)perylene", "Benzo(e)pyrene",
]  # fmt: skip
CONGENERS = (
    "8 18 28 31 44 49 52 66 70 74 77 81 87 95 99 101 105 110 114 118 123 126 128 138 146 149 151 153 156 157 158 167 "
    "169 170 174 177 180 183 184 187 189 194 195 199 201 203 206 209 5 15 17 22 33 37 42 47 48 56 60 63 64 82 84 85 "
    "92 97 132 136"
).split()
PESTICIDES = ["4,4'-DDD", "4,4'-DDE"]


def write_long_csv(path: Path, rows: int, *, per_sample: int = 100, seed: int = 7) -> None:
    """Write ``rows`` results, ``per_sample`` for each sample: metals, PAHs, PCB congeners, pesticides; solids, carbon.

    About one result in five is a non-detect, one in ten carries a J; half of the samples are reported wet.
    """
    substances = [*METALS, *PAHS, *(f"PCB-{number}" for number in CONGENERS), *PESTICIDES][: per_sample - 2]
    units = ["mg/kg" if name in METALS else "ug/kg" for name in substances] + ["%", "%"]
    substances += ["Percent solids", "Total organic carbon"]
    per_sample = len(substances)
    samples = -(-rows // per_sample)
    dice = np.random.default_rng(seed)
    n = samples * per_sample
    scale = np.exp(dice.normal(2.5, 1.3, n))
    text = np.round(scale, 3).astype(object)
    solids = np.arange(per_sample) == per_sample - 2
    carbon = np.arange(per_sample) == per_sample - 1
    conventional = np.tile(solids | carbon, samples)
    text[np.tile(solids, samples)] = np.round(dice.uniform(30, 75, samples), 1)
    text[np.tile(carbon, samples)] = np.round(dice.uniform(0.3, 6, samples), 2)
    draw = dice.random(n)
    flag = np.where(draw < 0.2, "U", np.where(draw < 0.3, "J", "")).astype(object)
    flag[conventional] = ""
    number = np.repeat(np.arange(samples), per_sample)
    frame = pd.DataFrame(
        {
            "Sample ID": [f"BX-{one:06d}" for one in range(samples) for _ in range(per_sample)],
            "Station": [f"S{one % 2000:04d}" for one in number],
            "Collected": np.where(number % 3 == 0, "2026-05-12", "2026-05-13"),
            "Analyte": substances * samples,
            "Result": text,
            "Qual": flag,
            "MDL": np.round(scale / 3, 4),
            "RL": np.round(scale, 3),
            "Unit": units * samples,
            "Basis": np.where(conventional, "", np.where(number % 2 == 0, "dry", "wet")),
            "Method": "in-house",
            "Lab Sample ID": [f"L{one:07d}" for one in number],
        }
    )
    frame.iloc[:rows].to_csv(path, index=False)
