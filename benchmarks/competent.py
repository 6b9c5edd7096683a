"""The script that a competent user would write for this job with general libraries alone.

It reads two FIT files with a codec, puts them on one second grid with pandas, finds a whole-second offset by
cross-correlation of cadence, and prints bias, halves, blocks, bands, limits of agreement and best means; for the report
it draws the panels with matplotlib into a page. It has no drift, no jumps, no response, no honest interval: it is a
yardstick for time and memory, not for answers.

    python -m benchmarks.competent read|clock|whole|report REFERENCE UNIT [PAGE]
"""

from __future__ import annotations

import sys

STAGES = ("read", "clock", "whole", "report")


def main(stage: str, reference_file: str, unit_file: str, page: str = "") -> None:  # noqa: PLR0915 - one script from top to bottom, as a user would write it
    """Do the job up to ``stage``."""
    import base64
    import io
    import json

    import fitdecode
    import numpy as np
    import pandas as pd

    def read(path: str) -> pd.DataFrame:
        rows = []
        with fitdecode.FitReader(path) as fit:
            for frame in fit:
                if isinstance(frame, fitdecode.FitDataMessage) and frame.name == "record":
                    rows.append({field.name: field.value for field in frame.fields})
        table = pd.DataFrame(rows)
        table["timestamp"] = pd.to_datetime(table["timestamp"], utc=True)
        table = table.drop_duplicates("timestamp").set_index("timestamp").sort_index()
        columns = [name for name in ("power", "cadence", "heart_rate") if name in table]
        seconds: pd.DataFrame = table[columns].apply(pd.to_numeric).resample("1s").mean()
        return seconds

    reference, unit = read(reference_file), read(unit_file)
    if stage == "read":
        print(len(reference), len(unit))
        return

    from scipy import signal

    first = reference["cadence"].interpolate().bfill().diff().fillna(0).to_numpy()
    second = unit["cadence"].interpolate().bfill().diff().fillna(0).to_numpy()
    lags = signal.correlation_lags(first.size, second.size)
    best = lags[np.argmax(signal.correlate(first, second, method="fft"))]
    starts_apart = (unit.index[0] - reference.index[0]).total_seconds()
    offset_s = best - starts_apart
    if stage == "clock":
        print(offset_s)
        return

    from scipy import stats

    unit.index = unit.index + pd.Timedelta(seconds=offset_s)
    both = reference.add_prefix("ref_").join(unit.add_prefix("unit_"), how="inner").dropna(subset=["ref_power"])
    both = both.dropna(subset=["unit_power"])
    difference = both["unit_power"] - both["ref_power"]

    def bias(part: pd.DataFrame) -> float:
        return 100 * (part["unit_power"].sum() / part["ref_power"].sum() - 1)

    minutes = (both.index - both.index[0]).total_seconds() / 60
    smooth = both["ref_power"].rolling(30, min_periods=1).mean()
    durations = [1, 5, 10, 30, 60, 300, 600, 1200, 1800, 3600]
    answer = {
        "offset_s": float(offset_s),
        "bias_pct": bias(both),
        "interval_w": stats.t.interval(0.95, len(difference) - 1, difference.mean(), stats.sem(difference)),
        "halves": [bias(part) for part in (both.iloc[: len(both) // 2], both.iloc[len(both) // 2 :])],
        "blocks": [bias(part) for _, part in both.groupby(minutes // 10)],
        "bands": {
            str(band): bias(part) for band, part in both.groupby(pd.cut(smooth, range(0, 1001, 50)), observed=True)
        },
        "cadence": {
            str(band): bias(part)
            for band, part in both.groupby(pd.cut(both["ref_cadence"], range(0, 201, 10)), observed=True)
        },
        "limits": {
            window: (
                difference.rolling(window).mean()[::window].mean(),
                1.96 * difference.rolling(window).mean()[::window].std(),
            )
            for window in (1, 10, 30, 60)
        },
        "best": {
            seconds: [both[column].rolling(seconds).mean().max() for column in ("ref_power", "unit_power")]
            for seconds in durations
        },
    }
    print(json.dumps(answer, default=str))
    if stage == "whole":
        return

    from pathlib import Path

    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt

    figure, panels = plt.subplots(4, 1, sharex=True, figsize=(12, 9))
    panels[0].plot(both.index, both[["ref_power", "unit_power"]])
    panels[1].plot(both.index, 100 * difference.rolling(30).mean() / both["ref_power"].rolling(30).mean())
    panels[2].plot(both.index, both[["ref_cadence", "unit_cadence"]])
    if "ref_heart_rate" in both:
        panels[3].plot(both.index, both["ref_heart_rate"])
    picture = io.BytesIO()
    figure.savefig(picture, format="png", dpi=120)
    encoded = base64.b64encode(picture.getvalue()).decode()
    Path(page).write_text(f"<pre>{json.dumps(answer, default=str)}</pre><img src='data:image/png;base64,{encoded}'>")


if __name__ == "__main__":
    main(*sys.argv[1:])
