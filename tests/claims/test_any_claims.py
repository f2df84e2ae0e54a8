"""Whatever a valid claims file holds: an audit ends in words and finite numbers."""

import math
import warnings

from hypothesis import given, settings
from hypothesis import strategies as st

from doe.claims.auditing import audit_test
from doe.claims.findings.same_change import same_changes
from doe.claims.reading.schema import ClaimsFile
from doe.claims.result import Audit
from doe.words.claims.headlines import CONTRADICTS, NO_VERDICT

parts = st.lists(st.sampled_from(["oil", "fuel", "plugs"]), max_size=2, unique=True)
printed = st.integers(1, 2000) | st.floats(0.01, 5000).map(lambda x: round(x, 1) or 0.1)
sds = st.none() | st.sampled_from([1e-6, 0.3, 2.0, 500.0])
steps = st.fixed_dictionaries(
    {},
    optional={
        "value": printed | st.lists(printed, min_size=1, max_size=4),
        "day": st.sampled_from(["2031-02-01", "2031-03-09", "a Sunday"]),
        "torque_unit": st.sampled_from(["N m", "lb ft", "stones"]),
        "changed": parts,
        "refit": st.booleans(),
        "pulls": st.integers(1, 9),
        "shown": st.sampled_from(["mean", "best", "last", "unknown"]),
        "at_rpm": st.integers(1000, 9000),
        "torque": st.integers(1, 900),
        "per_litre": st.integers(1, 200),
        "correction": st.sampled_from(["SAE J1349", "none", "unknown", "DIN 70020"]),
        "engine": st.sampled_from(["a", "b"]),
        "oil_temp_c": st.floats(20, 140),
    },
)
tests = st.fixed_dictionaries(
    {
        "test": st.fixed_dictionaries({}, optional={"unit": st.sampled_from(["hp", "kW", "lb ft", "points"])}),
        "noise": st.fixed_dictionaries({"pull_sd": sds, "install_sd": sds, "drift_sd": sds}),
        "engine": st.fixed_dictionaries({}, optional={"displacement_l": st.floats(0.05, 9)}),
        "step": st.lists(steps, min_size=2, max_size=5),
        "about": st.sampled_from([["oil"], ["fuel", "oil"], ["plugs"]]),
        "gain": st.none() | st.sampled_from([0, -3.5, 7.4, 1e6]),
        "smallest_gain": st.none() | st.sampled_from([0.01, 2.0, 1e4]),
        "ends": st.tuples(st.integers(0, 4), st.integers(0, 4)).filter(lambda ends: ends[0] != ends[1]),
    }
)


def file_of(raw):
    named = [{"name": f"s{n}", **step} for n, step in enumerate(raw["step"])]
    start, end = (f"s{place % len(named)}" for place in raw["ends"])
    claim = {
        "name": "c",
        "about": raw["about"],
        "from": [start],
        "to": [end if end != start else f"s{start == 's0':d}"],
    }
    claim |= {"gain": raw["gain"], "smallest_gain": raw["smallest_gain"]}
    return ClaimsFile.model_validate(
        {key: raw[key] for key in ("test", "noise", "engine")} | {"step": named, "claim": [claim]}
    )


def numbers(value):
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            yield from numbers(item)
    elif isinstance(value, float):
        yield value


@settings(max_examples=60)
@given(raw=tests)
def test_an_audit_ends_in_words_and_numbers(raw):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        test = audit_test(file_of(raw), "any.toml")
        audit = Audit((test, test), same_changes((test, test)))
        text, document = audit.to_text(details=True), audit.to_dict()
    assert "In plain words" in text
    assert test.claims[0].headline in text
    assert len(test.ask) <= 3
    assert not any(math.isnan(number) for number in numbers(document))
    claim = test.claims[0]
    if any(fault.severity == "fatal" for fault in claim.faults) or claim.evidence is None:
        assert claim.verdict == "not settled"
        assert claim.headline in (CONTRADICTS, NO_VERDICT)
    if claim.with_drift is not None:
        assert 0 <= claim.with_drift[0] <= claim.with_drift[1] <= 1
    if claim.chance is not None:
        assert 0 <= claim.chance.real_min <= claim.chance.real <= claim.chance.real_max <= 1
