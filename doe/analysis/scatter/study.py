"""What a noise study has found: the numbers of each metric, and the doors to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from doe.analysis.scatter.between_days import DaysApart
from doe.analysis.scatter.components import Drift, InstallScatter
from doe.analysis.scatter.covariates import Covariate
from doe.analysis.scatter.level_scatter import LevelScatter
from doe.analysis.scatter.noise_checks import Consistency, Outlier
from doe.analysis.scatter.steadiest import Steadiest
from doe.analysis.scatter.wander import Wander
from doe.words.result import Result


@dataclass(frozen=True, slots=True)
class MetricNoise:
    """The noise of one metric, in its unit."""

    name: str
    pulls: int  #: counted
    installs: int
    days: int
    mean: float  #: of the baseline, at the mean covariates
    pull_sd: float  #: repeatability standard deviation
    pull_sd_low: float  #: 95 % interval from chi-square
    pull_sd_high: float
    pull_df: int
    repeatability_limit: float  #: 2.77 pull SDs: two pulls differ by less, 19 times in 20
    critical_ranges: dict[int, float]  #: by number of pulls: their spread stays below, 19 times in 20
    install: InstallScatter | None  #: None where the parts were not fitted again
    day_sd: float | None
    days_apart: DaysApart | None  #: None on a single day
    drift: Drift | None
    lag1: float | None
    outliers: tuple[Outlier, ...]
    normal_p: float | None
    consistency: Consistency | None
    pull_names: tuple[str, ...]  #: of all counted pulls
    wander: Wander | None = None  #: None where it can't be looked for
    level_scatter: LevelScatter | None = None  #: None where the levels are too alike
    covariates: tuple[Covariate, ...] = ()  #: those that were asked for
    unit: str = ""
    window_rpm: tuple[float, float] | None = None  #: the range that the metric is taken over

    def outlier_names(self) -> list[int | str]:
        """Numbers of the outlying pulls (with their folder where there are several)."""
        names = [self.pull_names[outlier.row] for outlier in self.outliers]
        return [int(name) if name.isdigit() else name for name in names]

    def to_dict(self) -> dict[str, Any]:
        """Return what ``doe noise --json`` prints of one metric, at full precision."""
        install, drift, wander = self.install, self.drift, self.wander
        shown = wander if wander and wander.shown else None
        time = wander.time if wander else None
        return {
            "n": self.pulls,
            "mean": self.mean,
            "pull_sd": self.pull_sd,
            "pull_sd_low": self.pull_sd_low,
            "pull_sd_high": self.pull_sd_high,
            "pull_df": self.pull_df,
            "repeatability_limit": self.repeatability_limit,
            "install_sd": install.sd if install else None,
            "install_df": install.df if install else None,
            "day_sd": self.day_sd,
            "wander_sd": shown.sd if shown else None,
            "wander_df": shown.df if shown else None,
            "drift_per_hour": drift.per_hour if drift else None,
            "drift_p": drift.p if drift else None,
            "lag1": self.lag1,
            "outliers": self.outlier_names(),
            "install_sd_low": install.low if install else None,
            "install_sd_high": install.high if install else None,
            "critical_ranges": {str(n): size for n, size in self.critical_ranges.items()},
            "drift_low": drift.low if drift else None,
            "drift_high": drift.high if drift else None,
            "wander_p": wander.p if wander else None,
            "wander_seen_from": wander.seen_from if wander else None,
            "wander_minutes": time.minutes if time else None,
            "wander_minutes_low": time.low if time else None,
            "wander_minutes_high": time.high if time else None,
            "normal_p": self.normal_p,
            "level_scatter": self.level_scatter.to_dict() if self.level_scatter else None,
            "covariates": {covariate.name: covariate.to_dict() for covariate in self.covariates},
        }


@dataclass(frozen=True, slots=True, repr=False)
class NoiseStudy(Result):
    """What one or several days without changes (or with the changes taken out) say of the noise."""

    metrics: tuple[MetricNoise, ...]
    source: str  #: where the pulls come from, and when: what a day's [noise] table says
    row_word: str  #: "pull" of a day folder, "row" of a table
    warnings: tuple[str, ...] = ()
    steadiest: Steadiest | None = None  #: None with a single metric
    also_noted: tuple[str, ...] = ()  #: readings of every pull that were not asked for

    def __getitem__(self, name: str) -> MetricNoise:
        """One metric by its name."""
        return next(metric for metric in self.metrics if metric.name.casefold() == name.casefold())

    def to_dict(self) -> dict[str, Any]:
        """Return the document that ``doe noise --json`` prints, at full precision."""
        return {
            "metrics": {metric.name: metric.to_dict() for metric in self.metrics},
            "steadiest": self.steadiest.to_dict() if self.steadiest else None,
        }

    def to_frame(self) -> Any:
        """One tidy row per metric (a pandas DataFrame), with the install SD's interval and the checks."""
        import pandas as pd

        nested = ("outliers", "critical_ranges", "level_scatter", "covariates")
        return pd.DataFrame(
            {
                "metric": metric.name,
                **{key: value for key, value in metric.to_dict().items() if key not in nested},
                "install_variance": metric.install.variance if metric.install else None,
                "outliers": " ".join(map(str, metric.outlier_names())),
            }
            for metric in self.metrics
        )

    def to_text(self) -> str:
        """What a tester reads."""
        from doe.analysis.scatter.noise_text import noise_text

        return noise_text(self)
