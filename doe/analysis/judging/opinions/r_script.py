"""The pulls and the lines of R (lme4, pbkrtest) that reproduce the verdicts on the routes where R can."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.ask import Ask
from doe.analysis.judging.estimates import LEAST_CROSSED_DF, Estimates, crossed_stretch
from doe.analysis.judging.family import family_risks
from doe.analysis.judging.judgement import Gain
from doe.analysis.judging.opinions.plain_design import PlainDesign, plain_design
from doe.analysis.judging.verdict_rule import verdict
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.judgements import r_words
from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, Better
from doe.words.visible import visible

_FUNCTIONS = f"""
# Kenward and Roger's standard error and degrees of freedom of a contrast; ordinary ones where nothing is random.
told <- function(model, l) {{
  if (inherits(model, "lmerMod")) {{
    v <- as.matrix(pbkrtest::vcovAdj(model))
    df <- pbkrtest::get_Lb_ddf(model, l)
  }} else {{
    l <- l[!is.na(coef(model))]
    v <- vcov(model, complete = FALSE)
    df <- df.residual(model)
    if (!is.null(study)) {{
      pooled <- (deviance(model) + study$df * study$sd^2) / (df + study$df)
      v <- v * pooled / (deviance(model) / df)
      df <- df + study$df
    }}
  }}
  c(se = sqrt(drop(t(l) %*% v %*% l)), df = df)
}}
coefficients_of <- function(model) {{
  b <- if (inherits(model, "lmerMod")) lme4::fixef(model) else coef(model)
  b[is.na(b)] <- 0
  b
}}
# Means over the fittings of a part, every column of the model averaged too; there no study counts.
over_means <- function(labels) {{
  means <- rowsum(cbind(y = pulls$y, X), labels, reorder = FALSE) / as.vector(table(factor(labels, unique(labels))))
  Xm <- means[, -1, drop = FALSE]
  lm(means[, "y"] ~ 0 + Xm)
}}
verdict <- function(gain, half, inner, smallest) {{
  if (is.na(half)) return("{NOT_SETTLED}")
  if (!is.na(smallest) && abs(gain) + inner < smallest) return("{NO_DIFFERENCE}")
  if (gain - half > 0) return(above)
  if (gain + half < 0) return(below)
  "{NOT_SETTLED}"
}}
rows <- list()
judge <- function(name, column, models, risk, inner, smallest, least_df = 0, from = main, stretch = 0) {{
  gain <- coefficients_of(from)[[column]]
  l <- as.numeric(seq_len(ncol(X)) == column)
  if (percent) {{
    l <- 100 / baseline * (l - gain / baseline * level)
    gain <- 100 * gain / baseline
  }}
  halves <- sapply(seq_along(models), function(k) {{
    study <<- if (k == 2 || length(models) == 1) pull_study else NULL
    one <- told(models[[k]], l)
    if (k == 3 || length(models) == 1) one[["df"]] <- max(one[["df"]], least_df)
    if (k == 3) one[["se"]] <- one[["se"]] * stretch
    quantiles <- qt(1 - c(half = risk[k], inner = inner[k]) / 2, one[["df"]])
    c(one, one[["se"]] * quantiles)
  }})
  counts <- function(half) {{
    if (length(half) == 3 && max(half[-1]) < half[1]) return(1 + which.max(half[-1]))
    which.max(head(half, 2))
  }}
  longer <- counts(halves["half", ])
  half <- halves["half", longer]
  rows[[length(rows) + 1]] <<- data.frame(
    change = name, gain = gain, se = halves["se", longer], df = halves["df", longer], low = gain - half,
    high = gain + half, verdict = verdict(gain, half, halves["inner", counts(halves["inner", ])], smallest)
  )
}}
study <- NULL
"""


def r_script(
    trial: Trial, values: np.ndarray, known: KnownNoise, found: Estimates, ask: Ask, gains: Sequence[Gain]
) -> str:
    """Write the table and the lines.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    found : Estimates
    ask : Ask
    gains : sequence of Gain, one per change

    Returns
    -------
    str
        One file of R: the pulls are in it. Gains, standard errors, df, simultaneous limits and verdicts; where R can't
        follow (a noise study in the likelihood, the insurance against wander) its comments say so, and the lines give
        the same without it.
    """
    design = plain_design(trial, known, ask.method)
    lines = [
        *(f"# {line}" for line in r_words.head(_one_line(ask.metric), _one_line(ask.unit))),
        *(f"# change{i + 1}: {_name(trial, i)}" for i in range(len(trial.factors))),
        "suppressPackageStartupMessages({library(lme4); library(pbkrtest)})",
        f'pulls <- read.csv(text = "{_table(trial, values, design)}")',
        f"X <- as.matrix(pulls[, c({', '.join(map(_quoted, design.names))})])",
        _study(known, design),
        f"main <- {_main(design)}",
        *_sides(ask.better),
        _FUNCTIONS.strip(),
        *_scale(found, design),
        *_judged(trial, known, found, ask, gains, design),
        "options(width = 150, digits = 7)",
        "print(do.call(rbind, rows), row.names = FALSE)",
    ]
    return "\n".join(lines) + "\n"


def _sides(better: Better) -> list[str]:
    """What an interval above 0 is, and what one below: as the verdict rule has it."""
    above, below = (verdict(side, side, side, side, None, better) for side in (1.0, -1.0))
    return [f'above <- "{above}"; below <- "{below}"']


def _table(trial: Trial, values: np.ndarray, design: PlainDesign) -> str:
    """The pulls as comma-separated text: reading, columns of the model, labels of the fittings."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    labels = {f"fitting{i + 1}": column for i, column in enumerate(design.groups.values())}
    labels |= {f"means{i + 1}": column for i, column in enumerate(_meant(trial))}
    table.writerow(["y", *design.names, *labels])
    numbered = [np.unique(column, return_inverse=True)[1] + 1 for column in labels.values()]
    for at in range(trial.pulls):
        cells = [repr(float(x)) for x in (values[at], *design.matrix[at])]
        table.writerow([*cells, *(int(column[at]) for column in numbered)])
    return text.getvalue()


def _meant(trial: Trial) -> list[np.ndarray]:
    """Labels over which each change's means are taken, one per change."""
    found = []
    for i in range(len(trial.factors)):
        fittings = trial.grouping(i)
        found.append(trial.install if fittings is None else fittings)
    return found


def _name(trial: Trial, change: int) -> str:
    return _one_line(trial.name(change))


def _one_line(text: str) -> str:
    """A text of a file: no end of a line in it may end a comment."""
    return visible(" ".join(text.split()))


def _quoted(name: str) -> str:
    return f'"{name}"'


def _study(known: KnownNoise, design: PlainDesign) -> str:
    """A study of the pull scatter is pooled where one variance is all there is."""
    if known.pull is None or design.groups:
        return "pull_study <- NULL"
    sd, df = (float(np.asarray(x)) for x in known.pull)
    return f"pull_study <- list(sd = {sd!r}, df = {df!r})"


def _main(design: PlainDesign) -> str:
    if not design.groups:
        return "lm(y ~ 0 + X, pulls)"
    random = " + ".join(f"(1 | fitting{i + 1})" for i in range(len(design.groups)))
    return (
        f"lmer(y ~ 0 + X + {random}, pulls, control = lmerControl(optCtrl = list(xtol_abs = 1e-10, ftol_abs = 1e-12)))"
    )


def _scale(found: Estimates, design: PlainDesign) -> Iterator[str]:
    """Whether gains are in percent of the baseline, by the delta method; inside blocks the baseline is that of all."""
    yield f"percent <- {'TRUE' if found.percent else 'FALSE'}"
    if found.percent:
        yield f"level <- c({_numbers(design.level)})"
        own = "sum(level * coefficients_of(main))"
        yield f"baseline <- {repr(float(found.baseline[0])) if design.blocks else own}"


def _judged(
    trial: Trial, known: KnownNoise, found: Estimates, ask: Ask, gains: Sequence[Gain], design: PlainDesign
) -> Iterator[str]:
    """The call for each change that has an interval."""
    outer, inner = family_risks(found, ask.family_levels(trial))
    yield f"# {r_words.RISKS}"
    for i, gain in enumerate(gains):
        column, route = design.gains[i], found.routes[i]
        if route == r.SHORTENED and not found.shortens(i):
            route = r.LONGER
        if gain.se is None or column is None:
            yield f"# {_name(trial, i)}: {r_words.NO_INTERVAL}"
            continue
        for words in _can_not(known, found, i):
            yield f"# {_name(trial, i)}: {words}"
        means = f"over_means(pulls$means{i + 1})"
        two = f"{means}, lm(y ~ 0 + X, pulls)"
        models = {r.LONGER: f"list({two})", r.SHORTENED: f"list({two}, main)", r.INSTALL_MEANS: f"list({means})"}
        rivals = {r.LONGER: 2, r.SHORTENED: 3}.get(route, 1)
        further = f", least_df = {LEAST_CROSSED_DF!r}" if route in (r.CROSSED, r.SHORTENED) else ""
        further += f", stretch = {crossed_stretch(trial, i)!r}" if route == r.SHORTENED else ""
        smallest = "NA" if gain.smallest_gain is None else repr(float(gain.smallest_gain))
        name = _name(trial, i).replace("\\", "\\\\").replace('"', '\\"')
        further += f", from = {means}" if route == r.INSTALL_MEANS else ""
        yield (
            f'judge("{name}", {column + 1}, {models.get(route, "list(main)")}, c({_numbers(outer[0, i, :rivals])}), '
            f"c({_numbers(inner[0, i, :rivals])}), {smallest}{further})"
        )


def _can_not(known: KnownNoise, found: Estimates, change: int) -> Iterator[str]:
    """What R's packages have no place for."""
    route, parts = found.routes[change], found.main.components
    random = any(name not in ("pull", "wander") for name in parts)
    if route in r.BY_MEANS and known.pull is not None and random:
        yield r_words.NO_STUDY_IN_GAIN
    elif route == r.STUDY or (known.pull is not None and random):
        yield r_words.NO_STUDY
    if known.wander is not None:
        yield r_words.NO_WANDER
    if (found.insured is not None and found.insured.changes[change]) or found.shortens(change, insured=True):
        yield r_words.NO_INSURANCE


def _numbers(row: np.ndarray) -> str:
    return ", ".join(repr(float(x)) for x in row)
