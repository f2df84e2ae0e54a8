"""What a noise study has found: the numbers of each metric, and the doors to them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from doe.analysis.scatter.covariates import Covariate, by_chance
from doe.analysis.scatter.level_scatter import LevelScatter
from doe.analysis.scatter.noise_checks import Consistency, Outlier
from doe.analysis.scatter.noise_result import MetricNoise, NoiseResult
from doe.analysis.scatter.scatter_by_day import DaysApart
from doe.analysis.scatter.steadiest import Steadiest
from doe.analysis.scatter.wander import MOST_PULLS, Wander
from doe.analysis.scatter.wander_evidence import LOUDEST
from doe.words.notes import Note, texts
from doe.words.phrases import sentence
from doe.words.scatter import noise_notes
from doe.words.scatter import noise_study_words as words
from doe.words.scatter.noise_words import neighbours_line, wander_bound_line
from doe.words.screen import Part
from doe.words.significance import NOTABLE

_IN_THE_UNIT = (
    "mean", "pull_sd", "pull_sd_low", "pull_sd_high", "repeatability_limit", "install_sd", "install_sd_low",
    "install_sd_high", "day_sd", "wander_sd", "wander_seen_from", "wander_at_most",
)  # fmt: skip
_IN_MINUTES = ("wander_minutes", "wander_minutes_low", "wander_minutes_high")


@dataclass(frozen=True, kw_only=True)
class StudiedMetric(MetricNoise):
    """The noise of one metric, from pulls that are all at hand."""

    mean_is_baseline: bool  #: else gains that can't be told from something else are in the mean
    critical_ranges: dict[int, float]  #: by number of pulls: their spread stays below, 19 times in 20
    days_apart: DaysApart | None  #: None on a single day
    outliers: tuple[Outlier, ...]
    normal_p: float | None
    consistency: Consistency | None
    pull_names: tuple[str, ...]  #: of all counted pulls
    wander: Wander | None = None  #: None where it can't be looked for
    level_scatter: LevelScatter | None = None  #: None where the levels are too alike
    covariates: tuple[Covariate, ...] = ()  #: those that were asked for

    def to_dict(self) -> dict[str, Any]:
        """Return what ``doe noise --json`` prints of one metric, at full precision."""
        install, drift, wander = self.install, self.drift, self.wander
        time = wander.time if wander else None
        return {
            **self.shared_dict(),
            "mean_is_baseline": self.mean_is_baseline,
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
            "wander_at_most": self.wander_at_most,
        }

    def to_row(self) -> dict[str, Any]:
        """One tidy row."""
        nested = ("outliers", "critical_ranges", "level_scatter", "covariates")
        return {
            "metric": self.name,
            "unit": self.unit,
            **{key: value for key, value in self.to_dict().items() if key not in nested},
            "install_variance": self.install.variance if self.install else None,
            "outliers": " ".join(map(str, self.outlier_names)),
        }

    def outlier_notes(self, row_word: str) -> list[Note]:
        """One note for each outlying pull."""
        return [
            noise_notes.outlier(self.show, row_word, name, out.residual, surely=out.statistic > out.critical_1)
            for name, out in zip(self.outlier_names, self.outliers, strict=True)
        ]

    def shape_notes(self) -> list[Note]:
        """Whether the scatter has the shape that the limits take for granted."""
        strange = self.normal_p is not None and self.normal_p < NOTABLE
        return [noise_notes.not_normal(self.name, self.normal_p)] if strange and self.normal_p is not None else []

    def fitting_notes(self) -> list[Note]:
        """Fittings that don't go with the others."""
        found = self.consistency
        if found is None:
            return []
        notes = []
        if found.cochran is not None and found.cochran_critical is not None and found.cochran > found.cochran_critical:
            notes.append(noise_notes.unequal_fittings(self.name, found.cochran, found.cochran_critical))
        for one in found.installs:
            for name, value, limit in (("h", one.h, found.h_critical), ("k", one.k, found.k_critical)):
                if value is not None and limit is not None and abs(value) > limit:
                    notes.append(noise_notes.fitting_apart(one.install, name, value, limit))
        return notes

    def level_notes(self) -> list[Note]:
        """Whether one SD for all levels misleads."""
        found = self.level_scatter
        if found is None or found.p >= NOTABLE:
            return []
        return [noise_notes.scatter_goes_with_level(self.name, found.exponent, self._level_figures(found))]

    def wander_notes(self) -> list[Note]:
        """Wander that is there."""
        w = self.wander
        return [noise_notes.wander(self.name, self._wander_seen(w))] if w is not None and w.shown else []

    def notes(self, row_word: str) -> list[Note]:
        """What was found on the way, in the order of the text."""
        found = [self.outlier_notes(row_word), self.shape_notes(), self.fitting_notes(), self.level_notes()]
        return [*self.wander_notes(), *(note for some in found for note in some if self.pull_sd)]

    def lines(self, row_word: str) -> list[Part]:
        """What a tester reads."""
        return [
            words.head(
                self.name, self.pulls, self.installs, self.days, self.mean, self.show, baseline=self.mean_is_baseline
            ),
            "",
            *self._scatter_lines(),
            *self._day_lines(),
            *self._drift_lines(),
            *self._wander_lines(),
            *(self._beyond(row_word) if self.pull_sd else []),
        ]  # fmt: skip

    def _scatter_lines(self) -> list[str]:
        """The pull and the refit scatter; where drift says all of the one, the other rests on what may be no drift."""
        if not self.pull_sd:
            fittings_differ = self.install is not None and self.install.sd > 0 and not self.steps_like
            return [words.NO_LIMIT, *(self._refit_lines() if fittings_differ else [])]
        ends = (self.scatter.pull_sd_low, self.scatter.pull_sd_high)
        pulls = words.pull_lines(self.show, self.repeatability_limit, ends, self.pull_df, self.mean)
        return [*pulls, *self._refit_lines()]

    def _refit_lines(self) -> list[str]:
        found = self.install
        if found is None:
            return [words.REFIT_UNKNOWN]
        floored = found.variance < found.sd**2 * (1 - 1e-9)
        return words.refit_lines(self.show, found.sd, (found.low, found.high), found.df, floored=floored)

    def _day_lines(self) -> list[str]:
        if self.day_sd is None or self.days_apart is None:
            return []
        days = zip(self._day_names(), self.days_apart.days, strict=True)
        rows = [(name, day.pulls, day.mean, day.pull_sd, day.df) for name, day in days]
        return words.day_lines(self.show, self.day_sd, rows)

    def _day_names(self) -> list[str]:
        """Folders as they stand before the pulls' numbers; days of a table are counted."""
        folders = list(dict.fromkeys(name.rpartition("/")[0] for name in self.pull_names))
        return folders if len(folders) == self.days else [f"day {i + 1}" for i in range(self.days)]

    def _drift_lines(self) -> list[str]:
        found = self.drift
        if found is None:
            return [words.NO_TIMES] if self.pull_sd else []
        line = words.drift_line(self.show, found.per_hour, (found.low, found.high), found.p)
        return [line, *neighbours_line(self.lag1)]

    def _wander_lines(self) -> list[str]:
        w = self.wander
        if w is None:
            many = self.drift is not None and self.pulls > MOST_PULLS
            return [words.wander_not_looked_for(MOST_PULLS)] if many else []
        if w.shown:
            return [*self._wander_seen(w), *words.wander_use(w.sd, w.df, self.mean)]
        return [
            *words.wander_unseen(self.show, w.p, w.seen_from, LOUDEST * self.pull_sd),
            wander_bound_line(self.show, w.at_most, LOUDEST * self.pull_sd, saved=self.stated_wander is not None),
        ]

    def _wander_seen(self, w: Wander) -> list[str]:
        time = None if w.time is None else (w.time.minutes, w.time.low, w.time.high)
        return words.wander_seen(self.show, w.p, w.sd, w.df, time)

    def _beyond(self, row_word: str) -> list[Part]:
        """What follows from a scatter that was seen."""
        outside = texts(self.outlier_notes(row_word))
        fittings = texts(self.fitting_notes())
        if self.consistency is not None and not fittings:
            fittings = [words.FITTINGS_AGREE]
        return [
            "",
            *self._trusted_lines(),
            "",
            *([*outside, words.outlier_remedy(row_word)] if outside else [words.NO_OUTLIER]),
            *texts(self.shape_notes()),
            *fittings,
            *self._level_lines(),
            *self.covariate_lines(),
        ]

    def _trusted_lines(self) -> list[Part]:
        rows = [(one.pulls, one.mean, one.two_means, one.refitted) for one in self.trusted]
        return words.trusted_lines(self.show, rows, self.critical_ranges)

    def _level_lines(self) -> list[str]:
        found = self.level_scatter
        if found is None:
            return []
        return texts(self.level_notes()) or [words.level_alike(self._level_figures(found))]

    @staticmethod
    def _level_figures(found: LevelScatter) -> str:
        return words.level_shown(found.exponent, (found.low, found.high), found.p)

    def covariate_lines(self) -> list[str]:
        """What goes with the scatter, of what was asked about."""
        if not self.covariates:
            return []
        rows = [(c.name, c.correlation, c.p, c.holm_p, c.takes_out, c.reason) for c in self.covariates]
        return words.covariate_lines(rows, by_chance(sum(c.p is not None for c in self.covariates)))


@dataclass(frozen=True, kw_only=True, repr=False)
class NoiseStudy(NoiseResult[StudiedMetric]):
    """What one or several days without changes (or with the changes taken out) say of the noise."""

    steadiest: Steadiest | None = None  #: None with a single metric
    also_noted: tuple[str, ...] = ()  #: readings of every pull that were not asked for
    read_as: tuple[str, ...] = ()  #: what was read, in words: times, and what was taken together

    @property
    def notes(self) -> tuple[Note, ...]:
        """The limits, and what was found on the way."""
        return (*self.limits, *(note for metric in self.metrics for note in metric.notes(self.row_word)))

    def to_dict(self) -> dict[str, Any]:
        """Return the document that ``doe noise --json`` prints, at full precision."""
        return {
            "metrics": self.metrics_dict(),
            "steadiest": self.steadiest.to_dict() if self.steadiest else None,
            "read": list(self.read_as),
            **self.notes_dict(),
        }

    def to_frame(self) -> Any:
        """One tidy row per metric (a pandas DataFrame), with the install SD's interval and the checks."""
        import pandas as pd

        frame = pd.DataFrame(metric.to_row() for metric in self.metrics)
        frame.attrs["units"] = {**self.units(_IN_THE_UNIT), **dict.fromkeys(_IN_MINUTES, "min")}
        return frame

    @property
    def best(self) -> str:
        """The steadiest metric; "" with a single one."""
        return self.steadiest.name if self.steadiest else ""

    def said(self) -> list[str]:
        """What was asked about, and what was read."""
        asked = [line for metric in self.metrics for line in metric.covariate_lines()]
        return [*asked, sentence("; ".join(self.read_as))] if self.read_as else asked

    def blocks(self) -> Iterator[Sequence[Part]]:
        """What was read, metric by metric, then what limits the use."""
        yield list(self.read_as)
        yield from (metric.lines(self.row_word) for metric in self.metrics)
        if self.steadiest is not None:
            best = self.steadiest
            others = [(cost.name, cost.pulls, cost.low, cost.high, cost.percent_sd) for cost in best.others]
            yield words.steadiest_lines(best.name, best.percent_sd, best.pulls, best.df, others)
        yield words.also_noted_lines(self.also_noted) if self.also_noted else []
        yield [f"Warning: {line}" for line in self.warnings]
