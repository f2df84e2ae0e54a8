"""What any look at noise finds, after one study or after thousands of days: the numbers and doors that all share."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Generic, TypeVar

from doe.analysis.scatter.components import Drift, InstallScatter
from doe.analysis.scatter.known_wander import KnownWander, StatedWander
from doe.analysis.scatter.trusted import Trusted, trusted
from doe.day.names import name_key
from doe.errors import InputError
from doe.stats.outliers import range_factor
from doe.words.notes import Note, texts
from doe.words.phrases import WIDTH
from doe.words.result import Told
from doe.words.scatter.noise_screen import noise_screen
from doe.words.scatter.noise_words import Figures
from doe.words.screen import Part, Screen, filled, laid_out_text

SHOWN = (1, 2, 3, 4, 6, 8)  # pulls in a mean that a tester may think of


@dataclass(frozen=True, slots=True)
class Scatter:
    """Pull and install scatter, in the metric's unit."""

    pull_sd: float  #: repeatability standard deviation
    pull_sd_low: float  #: 95 % interval from chi-square
    pull_sd_high: float
    pull_df: float
    install: InstallScatter | None  #: None where nothing was fitted again

    def to_dict(self) -> dict[str, float | None]:
        """Return the SDs under the names of [noise]; an archive's intervals hold for days that agree only."""
        return {
            "pull_sd": self.pull_sd,
            "pull_df": self.pull_df,
            "install_sd": self.install.sd if self.install else None,
            "install_df": self.install.df if self.install else None,
        }


@dataclass(frozen=True, kw_only=True)
class MetricNoise(ABC):
    """The noise of one metric, in its unit."""

    name: str
    unit: str = ""  #: "" where nobody said it
    window_rpm: tuple[float, float] | None = None  #: the range that the metric is taken over
    pulls: int  #: counted
    installs: int
    days: int
    mean: float  #: of the baseline, at the mean covariates; of many days each weighted by its pulls
    scatter: Scatter  #: what a coming day may count on
    day_sd: float | None
    drift: Drift | None
    lag1: float | None
    known_wander: KnownWander | None  #: None where it was not looked for
    steps_like: str = ""  #: what says all that differs inside the fittings, where that leaves no scatter: "drift"
    outlier_names: tuple[int | str, ...]  #: of the pulls, with their folder where there are several

    @property
    def pull_sd(self) -> float:
        """For a coming day."""
        return self.scatter.pull_sd

    @property
    def pull_df(self) -> float:
        """For a coming day."""
        return self.scatter.pull_df

    @property
    def install(self) -> InstallScatter | None:
        """For a coming day."""
        return self.scatter.install

    @property
    def repeatability_limit(self) -> float:
        """2.77 pull SDs: two pulls differ by less, 19 times in 20."""
        return range_factor(2) * self.pull_sd

    @property
    def trusted(self) -> tuple[Trusted, ...]:
        """What means of a few later pulls can be trusted to; empty where no scatter was seen."""
        if not self.pull_sd:
            return ()
        return tuple(trusted(self.pull_sd, self.pull_df, self.install, pulls) for pulls in SHOWN)

    @property
    def stated_wander(self) -> StatedWander | None:
        """What a coming day may state of wander."""
        return self.known_wander.stated(self.pull_sd) if self.known_wander else None

    @property
    def wander_at_most(self) -> float | None:
        """The largest wander SD that is left possible; None where any is."""
        return self.known_wander.at_most if self.known_wander else None

    def stated(self, size: float = 1.0) -> dict[str, float | None]:
        """What a coming day's [noise] may state: SDs times `size`, and their degrees of freedom."""
        install, wander = self.install, self.stated_wander
        return {
            "pull_sd": self.pull_sd * size,
            "pull_df": float(self.pull_df),
            "install_sd": None if install is None else install.sd * size,
            "install_df": None if install is None else install.df,
            "wander_sd": None if wander is None else wander.sd * size,
            "wander_df": None if wander is None else wander.df,
        }

    @property
    def show(self) -> Figures:
        """Writes its numbers."""
        return Figures(self.pull_sd, self.unit)

    def shared_dict(self) -> dict[str, Any]:
        """The keys of ``doe noise --json`` that every metric has, whatever was looked at."""
        scatter, drift = self.scatter.to_dict(), self.drift
        wander = self.known_wander.seen if self.known_wander else None
        return {
            "n": self.pulls,
            "mean": self.mean,
            "pull_sd": self.pull_sd,
            "pull_sd_low": self.scatter.pull_sd_low,
            "pull_sd_high": self.scatter.pull_sd_high,
            "pull_df": self.pull_df,
            "repeatability_limit": self.repeatability_limit,
            "trusted": [asdict(one) for one in self.trusted],
            "install_sd": scatter["install_sd"],
            "install_df": scatter["install_df"],
            "day_sd": self.day_sd,
            "wander_sd": wander.sd if wander else None,
            "wander_df": wander.df if wander else None,
            "drift_per_hour": drift.per_hour if drift else None,
            "drift_p": drift.p if drift else None,
            "lag1": self.lag1,
            "outliers": list(self.outlier_names),
        }

    @abstractmethod
    def to_dict(self) -> dict[str, Any]:
        """Return what ``doe noise --json`` prints of it, at full precision."""


Metric_co = TypeVar("Metric_co", bound=MetricNoise, covariant=True)


@dataclass(frozen=True, kw_only=True, repr=False)
class NoiseResult(Told, Generic[Metric_co]):
    """The metrics of a study or of an archive."""

    metrics: tuple[Metric_co, ...]
    source: str  #: where the pulls come from, and when: what a day's [noise] table says
    row_word: str = "pull"  #: "pull" of a day folder, "row" of a table
    limits: tuple[Note, ...] = ()  #: what limits the use of the numbers

    def __getitem__(self, name: str) -> Metric_co:
        """One metric by its name."""
        return next(metric for metric in self.metrics if metric.name.casefold() == name.casefold())

    def noise_for(self, metric: str, unit: str = "", *, percent: bool = False) -> dict[str, float | None]:
        """What this says of the noise of some readings, as `doe.judge` takes it.

        Parameters
        ----------
        metric, unit : str
            Of the readings; "" where nobody says the unit.
        percent : bool
            Whether gains are judged in percent.

        Raises
        ------
        InputError
            The study is of another metric, or in another unit.
        """
        same = [one for one in self.metrics if name_key(one.name) == name_key(metric)]
        if not same:
            names = ", ".join(f"'{one.name}'" for one in self.metrics)
            raise InputError(
                f"noise: the study is of {names}, the readings are '{metric}': they need not scatter alike. Study"
                " that column, or give the numbers: noise={'pull_sd': …, 'pull_df': …}"
            )
        found = same[0]
        if found.unit and unit and name_key(found.unit) != name_key(unit):
            raise InputError(f"noise: the study is in {found.unit}, the readings are in {unit}")
        return found.stated(100 / abs(found.mean) if percent else 1.0)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What limits the use of the numbers, in words."""
        return tuple(texts(self.limits))

    @property
    @abstractmethod
    def notes(self) -> tuple[Note, ...]:
        """The limits, and what was found on the way."""

    @abstractmethod
    def said(self) -> list[str]:
        """What was read and what was left out, in words."""

    @abstractmethod
    def blocks(self) -> Iterator[Sequence[Part]]:
        """All that is known in words, by paragraphs."""

    @property
    def best(self) -> str:
        """The steadiest metric; "" where that was not asked."""
        return ""

    def screen(self) -> Screen:
        """From which difference on pulls may be believed, and what else changes what a tester does."""
        return noise_screen(self.metrics, self.notes, best=self.best, row_word=self.row_word, said=self.said())

    def full_text(self, width: int = WIDTH) -> str:
        """The same sentence, and behind it everything that was found."""
        return laid_out_text([[filled(self.screen().first, width)], *self.blocks()], width)

    def units(self, columns: Iterable[str]) -> dict[str, str]:
        """The unit of some columns of a frame; none where the metrics differ in it or nobody said it."""
        (unit, *others) = {metric.unit for metric in self.metrics}
        return dict.fromkeys(columns, unit) if unit and not others else {}

    def metrics_dict(self) -> dict[str, Any]:
        """The metrics by name, as in ``doe noise --json``."""
        return {metric.name: metric.to_dict() for metric in self.metrics}

    def notes_dict(self) -> dict[str, Any]:
        """The warnings and the notes, as in every document."""
        return {"warnings": list(self.warnings), "notes": [note.to_dict() for note in self.notes]}
