"""A judgement in a tester's words: one line a change, the verdict first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from doe.words.judgements.gain_notes import NO_PULL
from doe.words.judgements.judged import Gain, Judgement, Noise
from doe.words.judgements.ledger_notes import later_verdict, share
from doe.words.judgements.rests_on import GAINS_ADD_UP, NOTHING_CARRIED_OVER
from doe.words.judgements.second_opinion_words import opinion_text
from doe.words.notes import texts
from doe.words.numbers import (
    confidence_text,
    digits_for,
    duration,
    held_of_hundred,
    of_hundred,
    several,
    signed,
    with_unit,
)
from doe.words.phrases import listed
from doe.words.verdicts import LOWER, NO_DIFFERENCE, NOT_SETTLED, lower_is_better, size_words, worth_words

_BEYOND = 1e6  # a limit that lies so far out is written as a power of ten
FUTILE = 0.2  # conditional power below which a question's time may serve another; not binding
_FEW = 2  # pulls that are named
_METHODS = {
    "study": "noise study in the likelihood, Kenward-Roger",
    "crossed": "fittings of every part random, a refit scatter for each, REML and Kenward-Roger",
    "longer of two": "the longer of two intervals, from fitting means and from pulls",
    "shortened by crossed": (
        "the longer of two intervals, from fitting means and from pulls; the means' is shortened to that of crossed "
        "fittings, a refit scatter for each part, where that is shorter"
    ),
    "within installs": "compared inside each fitting, REML and Kenward-Roger",
    "none": "no interval",
    "kenward-roger": "REML, Kenward-Roger, as asked",
    "install-means": "least squares on install means, as asked",
}


def judgement_text(judgement: Judgement) -> str:
    """Write what a tester reads at the bench in ten seconds.

    Parameters
    ----------
    judgement : Judgement

    Returns
    -------
    str
        Lines; rounded to what the intervals bear.
    """
    if judgement.withheld:
        return "\n".join([pulls_words(judgement), *judgement.read_as, noise_line(judgement), *judgement.warnings])
    lines = [pulls_words(judgement), *judgement.read_as, *look_words(judgement), *less_is_better(judgement), ""]
    width = max((len(g.verdict) for g in judgement.changes), default=0) + 2
    names = max((len(_name(g)) for g in judgement.changes), default=0) + 2
    for gain in judgement.changes:
        lines.append(f"{gain.verdict:<{width}}{_name(gain):<{names}}{_numbers(gain, judgement)}")
        lines += [f"{'':<{width}}{line}" for line in comments(gain, judgement)]
    lines += ["", *reading(judgement), noise_line(judgement)]
    lines += [f"Warning: {warning}" for warning in judgement.warnings]
    lines += [judgement.unkept] if judgement.unkept else []
    if judgement.second_opinion is not None:
        digits = decimals(judgement)
        lines += opinion_text(judgement.changes, judgement.second_opinion, digits, judgement.gain_unit)
    return "\n".join([*lines, f"Taken as given. {GAINS_ADD_UP} {NOTHING_CARRIED_OVER}", method_words(judgement)])


def decimals(judgement: Judgement) -> int:
    """Digits after the point that the intervals bear: two figures of the shortest half-width."""
    halves = [(g.family_high - g.family_low) / 2 for g in judgement.changes if _has_interval(g)]  # type: ignore[operator]
    if not halves or min(halves) <= 0:
        return 2
    return digits_for(min(halves))


def _has_interval(gain: Gain) -> bool:
    return gain.family_low is not None and gain.family_high is not None


def pulls_words(j: Judgement, *, baseline: bool = True) -> str:
    """What was judged: the metric, its pulls and fittings, the baseline; and whether as it was sealed."""
    unit = f" {j.unit}" if j.unit else ""
    fittings = several(j.installs, "fitting")
    known = baseline and j.baseline_mean is not None
    mean = "" if not known else f", baseline {j.baseline_mean:.{max(decimals(j), 1)}f}{unit}"
    sealed = {True: "", None: "", False: "; NOT as sealed before the first pull"}[j.sealed]
    return f"{j.metric}: {several(j.pulls, 'counted pull')}, {fittings}{mean}{sealed}"


def look_words(j: Judgement) -> list[str]:
    """Say which look this is and what it spends; nothing where there is none."""
    if j.look is None:
        return []
    number, risk = j.look
    if j.final:
        left = sorted({gain.risk for gain in j.changes if gain.risk is not None} or {risk})
        shares = " to ".join(dict.fromkeys(share(one) for one in (left[0], left[-1])))
        return [f"Final, after {several(number - 1, 'early look')}: {shares} of the risk was left for it."]
    leaves = "" if j.look_leaves is None else f" and leaves {share(j.look_leaves)} for the end"
    return [f"Early look {number}: it spends {share(risk)} of the risk{leaves}; not the last word."]


def less_is_better(j: Judgement) -> list[str]:
    """Say what a gain is where less is better; nothing where more is."""
    return [lower_is_better(j.metric, j.gain_unit)] if j.better == LOWER else []


def _name(gain: Gain) -> str:
    return f"{gain.factor} {gain.level}"


def no_gain(gain: Gain) -> str:
    """What stands in the place of a gain that is not there."""
    untested = not gain.notes or any(note.code == NO_PULL for note in gain.notes)
    return "not tested" if untested else "can't be told"


def _numbers(gain: Gain, j: Judgement) -> str:
    if gain.gain is None:
        return f"{no_gain(gain)}: {'; '.join(texts(gain.notes))}"
    d, unit = decimals(j), f" {j.gain_unit}" if j.gain_unit else ""
    text = f"{gain.gain:+.{d}f}{unit}"
    if _has_interval(gain):
        text += f"  ({shown_interval(gain, j)})"
    if gain.smallest_gain:
        text += f"  worth having: {gain.smallest_gain:g}"
    return text


def shown_interval(gain: Gain, j: Judgement) -> str:
    """The simultaneous interval: "+1.09 to +3.66"; "" where there is none."""
    if not _has_interval(gain):
        return ""
    return f"{_limit(gain.family_low, decimals(j))} to {_limit(gain.family_high, decimals(j))}"


def _limit(limit: float | None, digits: int) -> str:
    assert limit is not None
    return signed(limit, digits) if abs(limit) < _BEYOND else f"{limit:+.0e}"


def by_inner(j: Judgement) -> list[str]:
    """By which brackets no difference matters, where one that is shown reaches beyond; nothing elsewhere."""
    found: dict[str, list[str]] = {}
    for gain in j.changes:
        ends = (gain.family_low, gain.family_high, gain.inner_low, gain.inner_high)
        if gain.verdict != NO_DIFFERENCE or gain.smallest_gain is None or None in ends:
            continue
        low, high, inner_low, inner_high = (end for end in ends if end is not None)
        if max(-low, high) < gain.smallest_gain:
            continue
        digits = decimals(j) + 1  # it lies inside, also as it is written
        bracket = f"({_limit(inner_low, digits)} to {_limit(inner_high, digits)})"
        risk = 1 - j.family_confidence if gain.risk is None else gain.risk
        said = f"{_name(gain)} {bracket}, inside {with_unit(f'{gain.smallest_gain:g}', j.gain_unit)}"
        found.setdefault(confidence_text(2 * risk), []).append(said)
    return [f"'{NO_DIFFERENCE}' goes by the {level} % bracket: {'; '.join(said)}." for level, said in found.items()]


def comments(gain: Gain, j: Judgement, *, sized: bool = True, firm: bool = True) -> list[str]:
    """What the verdict leaves open, and what would settle it.

    Parameters
    ----------
    gain : Gain
    j : Judgement
    sized : bool
        Whether how large the gain is stands among them.
    firm : bool
        Whether it is told of a verdict that hangs on nothing; `firm_line` tells it of all at once.
    """
    if gain.gain is None:
        return []
    d, unit = decimals(j), f" {j.gain_unit}" if j.gain_unit else ""
    lines = [f"no interval: {note}" if gain.route == "none" else note.text for note in gain.notes]
    if gain.if_refits_add_nothing:
        low, high = gain.if_refits_add_nothing
        lines.append(f"if re-fitting added nothing, which this day can't show: {low:+.{d}f} to {high:+.{d}f}{unit}")
    lines += _assumed(gain, d, unit)
    if gain.verdict_number is not None and gain.verdict_number > 1 and gain.risk is not None:
        lines.append(later_verdict(gain.verdict_number, gain.risk))
    lines += _size(gain, j) if sized else []
    if gain.hangs_on or (firm and gain.hangs_on is not None):
        lines.append(hanging(gain.hangs_on))
    if gain.randomisation_p is not None:
        lines.append(
            f"randomisation p {gain.randomisation_p:.2g} (down to {gain.randomisation_p_smallest:.2g} could come out)"
        )
    if gain.conditional_power is not None and gain.conditional_power < FUTILE:
        lines.append(f"{little_hope(gain, j)}; its time may serve another question")
    if gain.verdict == NOT_SETTLED and gain.more_pulls:
        lines.append(more_words(gain))
    elif gain.verdict == NOT_SETTLED and _has_interval(gain) and gain.smallest_gain:
        lines.append(too_small())
    return lines


def _assumed(gain: Gain, digits: int, unit: str) -> list[str]:
    """The bracket under a guess of the refit scatter; empty where none is shown."""
    low, high, sd = gain.assumed_low, gain.assumed_high, gain.assumed_install_sd
    if low is None or high is None or sd is None:
        return []
    bracket = f"{_limit(low, digits)} to {_limit(high, digits)}{unit}"
    if gain.assumed_by == "tester":
        what = f"under your own guess that re-fitting adds {sd:.2g}{unit}"
    else:
        what = f"if re-fitting added about {sd:.2g}{unit} (0.7 pull SDs: common practice, no published source)"
    clash = f", and today's refit scatter is {gain.assumed_clash} than that" if gain.assumed_clash else ""
    return [f"{what}, counted as one degree of freedom: {bracket}; this decides nothing{clash}"]


def _size(gain: Gain, j: Judgement) -> list[str]:
    low, high, smallest = gain.family_low, gain.family_high, gain.smallest_gain
    if low is None or high is None or smallest is None:
        return []
    words = size_words(gain.verdict, low, high, smallest, j.gain_unit, j.better)
    return [] if words is None else [words]


def hanging(what: Sequence[str]) -> str:
    """How firmly a verdict stands: on which single pulls and fittings it hangs."""
    pulls, fittings = ([x for x in what if x.startswith(kind)] for kind in ("pull", "fitting"))
    if not what:
        return "no single pull decides it"
    if not pulls:
        return f"no single pull decides it; it hangs on {_named(fittings, 'fittings')}"
    return f"hangs on {' and '.join(_named(x, kind) for x, kind in ((pulls, 'pulls'), (fittings, 'fittings')) if x)}"


def firm_line(j: Judgement) -> list[str]:
    """The verdicts that hang on no single pull or fitting, in one sentence; nothing where every one hangs on some."""
    tried = [gain.hangs_on for gain in j.changes if gain.hangs_on is not None]
    if all(tried):
        return []
    if not any(tried):
        return [f"{'Every verdict holds' if len(tried) > 1 else 'The verdict holds'} without any one pull."]
    return ["Every verdict that names no pull or fitting holds without any one of them."]


def _named(what: Sequence[str], kind: str) -> str:
    return listed(what) if len(what) <= _FEW else f"any of {len(what)} {kind}"


def more_words(gain: Gain, *, brief: bool = False) -> str:
    """What would settle an open question; `brief`: behind another one, of which the same is said in full."""
    pairs = (gain.more_installs or 0) // 2
    how = f" in {several(pairs, 'return')} to baseline" if pairs else ""
    time = f", about {duration(gain.more_minutes)}" if gain.more_minutes is not None else ""
    pulls = several(gain.more_pulls or 0, "more pull")
    return f"{pulls}{how}{time}" if brief else f"{pulls}{how}, back to back{time}, would probably settle it"


def little_hope(gain: Gain, j: Judgement) -> str:
    """Of an open question at an early look, the rest of whose plan will hardly show it."""
    worth, chance = worth_words(gain.smallest_gain, j.gain_unit, j.better), gain.conditional_power or 0.0
    return f"little hope: if it {worth}, the rest of the plan will show it in {of_hundred(chance)} days"


def too_small() -> str:
    """Of an open question that no day would settle."""
    return "60 more back-to-back pairs would not settle it: the smallest gain is too small for this noise"


def reading(j: Judgement) -> list[str]:
    """What the brackets mean, in one sentence; nothing where there are none."""
    shown = sum(_has_interval(g) for g in j.changes)
    if not shown:
        return []
    share = _days_of_hundred(j)
    what = (
        "the true gain lies between the numbers in brackets" if shown == 1 else "all true gains lie in their brackets"
    )
    return [f"On {share} such days {what}."]


def holding(j: Judgement) -> list[str]:
    """The same as `reading` in half a line, behind a table."""
    shown = sum(_has_interval(g) for g in j.changes)
    if not shown:
        return []
    return [f"{'the bracket holds' if shown == 1 else 'all brackets hold'} on {_days_of_hundred(j)} days"]


def _days_of_hundred(j: Judgement) -> str:
    return held_of_hundred(1 - j.family_confidence)


def interval_levels(j: Judgement, times: int = 1) -> str:
    """Confidence of the brackets: "95 %", or "95 to 97.5 %" where the ledger has more for some questions.

    Parameters
    ----------
    j : Judgement
    times : int
        2 for the inner intervals, which have twice the risk.
    """
    risks = {gain.risk for gain in j.changes if gain.risk is not None} or {1 - j.family_confidence}
    ends = sorted({confidence_text(times * risk) for risk in (max(risks), min(risks))}, key=float)
    return f"{' to '.join(ends)} %"


def noise_line(j: Judgement) -> str:
    """What scatters, and by how much."""
    unit = f" {j.gain_unit}" if j.gain_unit else ""
    n = j.noise
    if n.pull_sd is None:
        return "Noise: not known from these pulls."
    parts = [f"pull-to-pull scatter {n.pull_sd:.2g}{unit}"]
    if n.install_sds:
        sizes = (f"{'not seen' if sd is None else f'{sd:.2g}{unit}'} ({name})" for name, sd in n.install_sds.items())
        parts.append(f"refit scatter {', '.join(sizes)}")
    elif n.install_sd is not None:
        parts.append(f"refit scatter {n.install_sd:.2g}{unit}")
    elif 1 < j.installs == j.pulls:
        parts = [f"refit and pull-to-pull scatter together {n.pull_sd:.2g}{unit}"]
    elif j.installs > 1:
        parts.append("refit scatter not seen")
    if n.wander_sd is not None:
        parts.append(f"wander {n.wander_sd:.2g}{unit}")
    if n.drift_per_hour is not None:
        parts.append(f"drift {n.drift_per_hour:+.2g}{unit}/h")
    return "Noise (SD): " + ", ".join(parts) + "."


def method_words(j: Judgement) -> str:
    """Which way each interval was reached, and what its confidence is."""
    routes = list(dict.fromkeys(g.route for g in j.changes if g.gain is not None))
    family = sum(_has_interval(g) for g in j.changes)
    how = "; ".join([*(f"{route} ({_METHODS[route]})" for route in routes), *_wander(j.noise)])
    if not family:
        return f"Method: {how}."
    together = f"simultaneous over {family} changes" if family > 1 else "one change"
    return f"Method: {how}; {interval_levels(j)} intervals, {together}."


def _wander(noise: Noise) -> Iterator[str]:
    """What was taken of a wander that nobody measured."""
    if noise.wander_insured:
        yield "insured against wander that nobody measured (wander_sd = 0 in [noise] vouches for none)"
    elif noise.wander_vouched:
        yield "the tester vouches that nothing wanders (wander_sd = 0 in [noise])"
