"""The house: no circle of files, no room too full, no file too long, no two files of one name without a reason."""

from __future__ import annotations

import ast
from collections import Counter, defaultdict
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

ROOT = Path(__file__).parents[1]
DOE = ROOT / "doe"
MOST_FILES, MOST_LINES = 16, 350

#: file name -> why several rooms have one: it is the same thing for each
SHARED_NAMES = {
    "result.py": "what the room returns; in words, the doors that every result has",
    "schema.py": "what a file that a person writes may hold",
    "template.py": "the file that a person starts from",
    "saving.py": "writing what was made into the day folder",
    "wander.py": "slow, random change: its kernel, and what a study sees of it",
    "verdicts.py": "the verdicts: how they are reached, and their words",
}

#: test file -> modules of doe that it tests through what they serve; every other one has a mirror test file
#: (tests/ROOM/test_NAME.py) or is imported by a test
TESTED_BY = {
    "analysis/archive/test_noise_of_archive.py": (
        "analysis.archive.control_limits analysis.archive.pooled_days words.scatter.noise_archive_words"
    ),
    "analysis/judging/test_checks.py": (
        "analysis.judging.checks.health analysis.judging.checks.influence analysis.judging.reasons "
        "analysis.judging.fits analysis.judging.route_fits words.judgements.judge_notes words.judgements.judged "
        "words.judgements.judgement_words words.judgements.rests_on"
    ),
    "analysis/judging/test_crossed.py": "analysis.judging.noise_used",
    "analysis/judging/opinions/test_second_opinion.py": "analysis.judging.opinions.asked_for",
    "analysis/judging/test_days.py": (
        "analysis.judging.day_asks analysis.judging.ledger.information analysis.judging.ledger.how_far"
    ),
    "analysis/judging/test_ledger_of_days.py": (
        "analysis.judging.ledger.books analysis.judging.ledger.keeping words.judgements.ledger_notes"
    ),
    "analysis/judging/test_determined.py": "analysis.judging.routes analysis.trials.confounding",
    "analysis/judging/test_difficult_days.py": "analysis.judging.settle",
    "analysis/judging/curves/test_of_days.py": "analysis.judging.curves.traced_pulls",
    "analysis/judging/test_many.py": "words.judgements.many_outcomes_words",
    "analysis/trials/test_sixty_tables.py": (
        "analysis.trials.prepared analysis.trials.side_by_side analysis.trials.table_reading analysis.trials.unnamed "
        "day.cell_units day.grid day.header day.foreign.leftovers day.foreign.missing day.foreign.xlsx_rows "
        "words.judgements.table_notes words.judgements.table_words"
    ),
    "analysis/scatter/test_covariates.py": "analysis.trials.covariate_columns",
    "analysis/scatter/test_repeatability.py": (
        "analysis.scatter.metrics_compared analysis.scatter.noise_result analysis.scatter.scatter_by_day "
        "analysis.scatter.study_result words.scatter.noise_notes words.scatter.noise_study_words "
        "words.scatter.noise_words"
    ),
    "cell/air/test_correction.py": "cell.air.doubts",
    "cell/traces/test_clean_trace.py": "cell.traces.plausible",
    "cell/traces/test_proposal.py": "cell.traces.export_numbers",
    "claims/findings/test_claim_faults.py": (
        "claims.findings.comparison claims.findings.noise_faults claims.findings.plausibility "
        "claims.findings.selection_faults claims.reading.printed"
    ),
    "claims/test_printed_claims.py": (
        "claims.evidence.headline claims.findings.questions words.claims.headlines words.claims.question_words"
    ),
    "claims/reading/test_claimsfile.py": "claims.reading.file_checks",
    "claims/test_audit_words.py": "words.claims.audit_words words.claims.audited words.claims.plain_words",
    "claims/findings/test_same_change.py": "words.claims.pooled_notes",
    "claims/test_protocol.py": "words.claims.protocol_notes words.claims.protocol_words",
    "day/files/test_limits.py": "day.pilot.coming.begins",
    "cli/cell/test_watch.py": "words.cell.watch_words",
    "cli/cell/test_log_commands.py": (
        "cli.cell.check_command cli.cell.next_command cli.cell.record_command cli.cell.void_command "
        "cli.options cli.terminal"
    ),
    "cli/cell/test_trace.py": (
        "cli.cell.trace_command cli.cell.trace_questions cli.cell.traced_pull day.pilot.traced.traced_entry "
        "day.pilot.settings.traces_table"
    ),
    "cli/cell/test_sheet.py": (
        "cli.cell.from_sheet cli.cell.sheet_command day.sheet.cells day.sheet.placing words.day.sheet_notes "
        "words.day.sheet_words"
    ),
    "cli/day/test_new.py": (
        "cli.day.questions_in_turn cli.day.asked_day cli.day.change_values cli.day.kept_answers cli.day.new_command "
        "cli.day.new_questions"
    ),
    "cli/day/test_plan.py": "cli.day.plan_command cli.day.rest_of_day cli.day.whole_day cli.day.wish_options "
    "cli.day.rented_days cli.day.shown_plan",
    "cli/desk/test_audit.py": "cli.desk.audit_command",
    "cli/desk/test_correct.py": "cli.desk.correct_command cell.air.correction_text",
    "cli/desk/test_demo.py": "cli.desk.demo_command words.demo_words",
    "cli/desk/test_judge_bad_input.py": (
        "cli.desk.columns cli.desk.judge_command cli.desk.verdict_table analysis.trials.table_columns"
    ),
    "cli/desk/test_noise.py": "cli.desk.noise_command",
    "cli/test_only_visible_text.py": "cli.desk.rehearse_command cli.desk.report_command report.rendering",
    "cli/test_processes.py": "__main__",
    "day/clocks/test_day_clock.py": "words.day.clock_notes",
    "day/columns/test_table_times.py": "day.columns.clock_order day.columns.time_cells day.columns.time_numbers",
    "day/files/test_dayfile.py": "day.files.checks day.files.toml_faults day.files.toml_text",
    "day/bring/test_needs.py": "day.files.price_checks words.day.bring_words",
    "day/log/mirror/test_mirroring.py": "cli.cell.mirror_question words.day.mirror_notes",
    "day/log/test_log.py": (
        "day.log.comparing day.log.oddities day.log.overnight day.log.rows day.log.sequence "
        "day.times words.day.log_notes"
    ),
    "day/pilot/coming/test_baseline_check.py": "words.day.coming.baseline_words words.day.coming.seen_ahead",
    "day/pilot/test_integrity.py": "day.log.voids words.day.folder_notes",
    "day/pilot/slips/test_doubting.py": (
        "cli.cell.doubt_questions day.pilot.slips.answers_to_doubts words.day.doubt_words"
    ),
    "day/pilot/slips/test_fixing.py": (
        "day.log.marks.rewriting day.pilot.slips.moving day.pilot.slips.renumbering words.day.fix_words"
    ),
    "day/pilot/slips/test_forgotten.py": "day.log.marks.late day.log.marks.without_place",
    "day/pilot/slips/test_listing.py": "cli.cell.log_command cli.cell.fix_command words.day.listing_words",
    "day/pilot/test_record.py": (
        "day.log.making day.pilot.answers day.pilot.deciding day.pilot.notices words.day.pull_notes "
        "words.day.pull_words"
    ),
    "day/pilot/test_up_next.py": (
        "day.pilot.coming.days_together day.pilot.coming.ending day.pilot.standing words.day.ending_words "
        "words.day.upnext_words"
    ),
    "planning/rented/test_several_days.py": (
        "planning.rented.drawn_days planning.rented.stored_days planning.rented.sufficient_days "
        "planning.rented.wish_costs words.plans.rented_words"
    ),
    "planning/rented/test_another_day.py": "words.plans.another_words",
    "planning/rented/test_rented_outlook.py": (
        "planning.rented.after_each planning.rented.coming_back planning.rented.fixed_days planning.rented.rivals"
    ),
    "planning/test_ease.py": "words.plans.ease_words",
    "planning/wishes/test_wishes.py": ("day.files.wish_checks planning.wishes.prices words.plans.wish_words"),
    "planning/under_way/test_joined.py": (
        "cli.day.joining cli.day.replan_options day.log.planned.day_text day.pilot.settings.added_change "
        "planning.under_way.joined"
    ),
    "planning/under_way/test_ways.py": (
        "cli.day.late_day day.pilot.coming.ways planning.under_way.anew planning.under_way.kept_order "
        "words.plans.replan_words"
    ),
    "planning/arrays/test_after_day.py": "planning.arrays.history",
    "planning/arrays/test_worth.py": "planning.arrays.assumptions planning.arrays.day_arrays",
    "planning/drawn/test_study_worth.py": "words.plans.study_words",
    "planning/search/test_batch_and_moves.py": "planning.search.exchange",
    "planning/search/test_randomise.py": "planning.drawn.documents",
    "planning/test_plan.py": (
        "planning.drawn.break_even planning.drawn.compare planning.drawn.dropping "
        "planning.drawn.promises planning.drawn.result planning.search.choose words.plans.plan_notes "
        "words.plans.clock_table words.plans.plan_words words.plans.planned"
    ),
    "simulation/test_rehearsal.py": "simulation.rehearsed_days words.plans.rehearsal_words",
    "report/sections/test_report_of_folders.py": (
        "report.sections.photos words.report.day_noise_words words.report.report_notes words.report.story_words"
    ),
    "report/test_day_figure.py": "report.clock_axis",
    "report/test_page.py": (
        "report.sections.every_pull report.sections.noise_section report.sections.pictures "
        "report.sections.answer_costs report.sections.residual_figure "
        "words.report.answer_words"
    ),
    "test_every_option.py": "cli.figures",
    "test_public.py": "report.any_result report.noise_figures report.rehearsal_figure",
    "words/test_result.py": "words.phrases",
    "words/test_significance.py": "words.significance",
}


@cache
def modules() -> dict[str, Path]:
    found = {}
    for path in DOE.rglob("*.py"):
        parts = path.relative_to(ROOT).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


@cache
def imports() -> dict[str, set[str]]:
    """Module -> the modules of ours that it imports, inside functions and for types too."""
    graph = {}
    for name, path in modules().items():
        seen = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{path}: imports are absolute here"
                seen |= {f"{node.module}.{alias.name}" for alias in node.names} | {node.module or ""}
            elif isinstance(node, ast.Import):
                seen |= {alias.name for alias in node.names}
        ours = seen & set(modules())
        # a name taken from a package's sub-module runs its __init__ too, which is empty but for the public one
        graph[name] = {one for one in ours if one not in (name, "doe")}
    return graph


def test_no_circle_of_files():
    try:
        order = list(TopologicalSorter(imports()).static_order())
    except CycleError as error:
        raise AssertionError(" -> ".join(error.args[1])) from None
    assert (
        order.index("doe.errors")
        < order.index("doe.analysis.judging.verdicts")
        < order.index("doe.cli.desk.judge_command")
    )


def test_no_room_is_too_full():
    rooms = Counter(path.parent.relative_to(ROOT).as_posix() for path in modules().values() if path.stem != "__init__")
    assert {room: files for room, files in rooms.items() if files > MOST_FILES} == {}


def test_no_file_is_too_long():
    lengths = {name: len(path.read_text(encoding="utf-8").splitlines()) for name, path in modules().items()}
    assert {name: lines for name, lines in lengths.items() if lines > MOST_LINES} == {}


def test_no_product_file_is_named_like_a_test():
    assert [path for path in modules().values() if path.stem.endswith("_test") or path.stem.startswith("test_")] == []


def test_files_of_one_name_have_a_reason():
    homes = defaultdict(list)
    for path in modules().values():
        if not path.stem.startswith("__"):
            homes[path.name].append(path.parent.relative_to(ROOT).as_posix())
    several = {name: rooms for name, rooms in homes.items() if len(rooms) > 1}
    assert set(several) == set(SHARED_NAMES), several


def test_the_words_know_no_library():
    """import-linter holds it for the libraries by name; this, for every other."""
    allowed = {"doe", "__future__", "abc", "collections", "dataclasses", "datetime", "html", "itertools", "math", "re",
               "textwrap", "typing"}  # fmt: skip
    for path in (DOE / "words").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            assert {name.split(".")[0] for name in names} <= allowed, path


def ours(tree: ast.AST) -> set[str]:
    """Every name that a file imports, with what may be a module's own name among them."""
    seen = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            seen |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Import):
            seen |= {alias.name for alias in node.names}
    return seen


@cache
def imported_by_tests() -> dict[str, set[str]]:
    """Test file or what tests share -> the names that it imports."""
    tests = ROOT / "tests"
    return {
        path.relative_to(tests).as_posix(): ours(ast.parse(path.read_text(encoding="utf-8")))
        for path in tests.rglob("*.py")
        if "benchmarks" not in path.parts
    }


def reached_by(test: str) -> set[str]:
    """The modules that a test file may run: what it imports, what tests share, and all that these import."""
    found = imported_by_tests()[test]
    above = {(parent / "conftest.py").as_posix() for parent in Path(test).parents}
    shared = {*above, *(f"shared/{name}.py" for name in found)} & set(imported_by_tests())
    todo = list(set().union(found, *(imported_by_tests()[one] for one in shared)) & set(modules()))
    if "doe" in todo or "doe.cli" in todo:  # both load the rest by its name, when it is asked for
        return set(modules())
    reached = set()
    while todo:
        name = todo.pop()
        if name not in reached:
            reached.add(name)
            todo += imports()[name]
    return reached


def test_every_module_has_a_test_file():
    """A mirror of its own, or a test that imports it, or a line in TESTED_BY that says which test runs it."""
    imported = set().union(*(names for file, names in imported_by_tests().items() if "shared/" not in file))
    named = {f"doe.{name}" for names in TESTED_BY.values() for name in names.split()}
    untested = [
        name
        for name, path in modules().items()
        if path.stem != "__init__"
        and name not in imported | named
        and not (ROOT / "tests" / path.relative_to(DOE).with_name(f"test_{path.name}")).exists()
    ]
    assert untested == [], "write a mirror test file, or name the test that runs it in TESTED_BY"


def test_what_tests_a_module_can_reach_it():
    for test, names in TESTED_BY.items():
        missing = {f"doe.{name}" for name in names.split()} - reached_by(test)
        assert not missing, f"{test} imports nothing that leads to {sorted(missing)}"
