"""``doe plan``: the run order, the clock, what can be answered."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from doe.cli.asking import YesFlag
from doe.cli.day.ease_option import SHOW_ONLY, EaseOption, NumberMayLack, easier, seed_of_lines, with_fewer
from doe.cli.day.rented_days import AnotherDayFlag, FurtherDays, plan_rented, show_another_day
from doe.cli.day.replan_options import AddOption, FittingMinutes, PreviewFlag, SwitchingMinutes, TakeOption, UndoFlag
from doe.cli.day.shown_plan import print_frontier, search_bar, show_plan
from doe.cli.day.wish_options import (
    Apart,
    First,
    Last,
    MaxChangeovers,
    MinPulls,
    OneAtATime,
    Supply,
    more_wishes,
)
from doe.cli.figures import FiguresOption
from doe.cli.options import DayFolder, DetailsFlag, JsonFlag, emit
from doe.cli.patience import working

if TYPE_CHECKING:
    from doe.planning.drawn.result import Plan
    from doe.planning.wishes.wished import MoreWishes


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("plan", cls=NumberMayLack)(plan)


def plan(
    folder: DayFolder = Path(),
    further: FurtherDays = None,
    seed: Annotated[int | None, typer.Option(help="Draws the order; the same seed gives the same plan.")] = None,
    effort: Annotated[
        Literal["quick", "normal", "long"],
        typer.Option(help="How many orders are looked at: 4,000, 32,000 or 300,000."),
    ] = "normal",
    fresh_refit: Annotated[
        bool | None,
        typer.Option(
            "--fresh-refit/--no-fresh-refit",
            help="Back-to-back pairs, the same part fitted afresh in every slot, so that their order can be drawn;"
            " by default where six pairs fit and cost next to nothing.",
            show_default=False,
        ),
    ] = None,
    fill: Annotated[
        bool, typer.Option("--fill", help="Take the whole day, also where fewer hours settle almost as much.")
    ] = False,
    new: Annotated[
        bool, typer.Option("--new", help="Draw another plan where there is one; the old one is kept as plan.1.csv.")
    ] = False,
    yes: YesFlag = False,
    minutes: Annotated[
        float | None, typer.Option(help="What if the day had so many minutes, breaks left out? Nothing is written.")
    ] = None,
    pull_sd: Annotated[float | None, typer.Option(help="What if? Pull-to-pull scatter.")] = None,
    install_sd: Annotated[float | None, typer.Option(help="What if? Refit scatter.")] = None,
    wander_sd: Annotated[float | None, typer.Option(help="What if? Wander.")] = None,
    smallest_gain: Annotated[
        list[str] | None, typer.Option(metavar="CHANGE:X", help="What if? Gain worth having; repeatable.")
    ] = None,
    show_frontier: Annotated[
        bool, typer.Option("--frontier", help="What another hour buys, 4 to 12 hours. Nothing is written.")
    ] = False,
    figure: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the day, or the frontier (.png, .svg or .pdf).")
    ] = None,
    after: Annotated[
        Path | None,
        typer.Option(
            metavar="DAY",
            help="This day goes on with an earlier one: both will be judged together; where the folder isn't there"
            " yet, it begins with the same day.toml and a new date.",
        ),
    ] = None,
    from_now: Annotated[
        bool, typer.Option("--from-now", help="During the day: plan the rest of it; the old plan is kept.")
    ] = False,
    drop: Annotated[
        list[str] | None, typer.Option(metavar="CHANGE", help="--from-now: no more pulls with it; repeatable.")
    ] = None,
    keep: Annotated[
        list[str] | None, typer.Option(metavar="CHANGE", help="--from-now: pulls with it in any case; repeatable.")
    ] = None,
    minutes_on: Annotated[
        list[str] | None,
        typer.Option(metavar="CHANGE:MINUTES", help="--from-now: what a changeover really takes; repeatable."),
    ] = None,
    finish: Annotated[str | None, typer.Option(metavar="HH:MM", help="--from-now: another finish.")] = None,
    pause: Annotated[
        list[str] | None,
        typer.Option("--break", metavar="HH:MM+MINUTES", help="--from-now: one more break; repeatable."),
    ] = None,
    one_at_a_time: OneAtATime = False,
    max_changeovers: MaxChangeovers = None,
    min_pulls: MinPulls = None,
    first: First = None,
    last: Last = None,
    apart: Apart = None,
    supply: Supply = None,
    ease: EaseOption = None,
    take: TakeOption = None,
    preview: PreviewFlag = False,
    add: AddOption = None,
    fitting_minutes: FittingMinutes = None,
    switching_minutes: SwitchingMinutes = None,
    undo: UndoFlag = False,
    another: AnotherDayFlag = False,
    figures: FiguresOption = None,
    details: DetailsFlag = False,
    as_json: JsonFlag = False,
) -> None:
    """The run order, the clock, and what the day can answer.

    Writes plan.csv, plan.json and orders.txt, unless it is asked "what if". Where there is a plan it is shown, and
    nothing is drawn or written: --new draws another, and so do --fill and the wishes, each with its price.

    Example: doe plan my-day

    Example: doe plan my-day --new --fill

    Example: doe plan my-day --minutes 600 --smallest-gain oil:1.5

    Example: doe plan my-day --last fuel --max-changeovers 12 --apart timing:lambda

    Example: doe plan my-day --ease

    Example: doe plan monday tuesday --another-day

    Example: doe plan my-day --from-now --minutes-on oil:45 --finish 17:00

    Example: doe plan my-day --from-now --fill --preview

    Example: doe plan my-day --from-now --add oil=5W-30:2

    Example: doe plan my-day --from-now --add "spacer=25 mm:2" --fitting-minutes 12

    Example: doe plan my-day --undo
    """
    from doe.cli.day.change_values import change_values
    from doe.cli.day.joining import day_at_work, joining
    from doe.cli.day.late_day import say_taken, take_back
    from doe.cli.day.rest_of_day import plan_rest
    from doe.cli.day.whole_day import as_drawn_before, begun_after, may_replace, plan_there
    from doe.planning.drawn.plan import plan_of
    from doe.planning.drawn.what_if import what_if
    from doe.planning.wishes.wished import with_wishes
    from doe.simulation.wandering_days import with_false_verdicts

    rest: dict[str, object] = {
        "--drop": drop,
        "--keep": keep,
        "--minutes-on": minutes_on,
        "--finish": finish,
        "--break": pause,
        "--take": take,
        "--preview": preview,
        "--add": add,
        "--fitting-minutes": fitting_minutes is not None,
        "--switching-minutes": switching_minutes is not None,
    }
    whole: dict[str, object] = {"--fresh-refit": fresh_refit is not None, "--fill": fill, "--after": after}
    what_ifs: dict[str, object] = {
        "--minutes": minutes, "--pull-sd": pull_sd, "--install-sd": install_sd, "--wander-sd": wander_sd,
        "--smallest-gain": smallest_gain,
    }  # fmt: skip
    if undo:
        others = {"--from-now": from_now, "--new": new, "--frontier": show_frontier, "--seed": seed is not None}
        _refuse(
            rest | whole | what_ifs | others | {"--ease": ease is not None, "several days": further},
            "not with --undo, which follows the plan before again",
        )
        emit(take_back(folder), as_json=as_json, noted=True)
        return
    if further or another:
        _refuse(
            rest
            | {name: value for name, value in whole.items() if name != "--fill"}
            | what_ifs
            | {"--from-now": from_now, "--frontier": show_frontier, "--ease": ease is not None}
            | {"--figure": figure, "--figures": figures},
            "not for several days that are planned together",
        )
        _refuse({"--new": new, "--fill": fill} if another else {}, "not with --another-day, which writes nothing")
        _refuse({"--details": details} if another else {}, "not with --another-day, which says all it knows")
    elif show_frontier:
        _refuse(
            rest | whole | {"--from-now": from_now, "--new": new, "--ease": ease is not None, "--details": details},
            "not with --frontier, which plans many days",
        )
    elif from_now:
        _refuse(whole | {"--fill": False, "--new": new}, "for the plan of a whole day; not with --from-now")
    else:
        _refuse(rest, "for the rest of a day that has begun; add --from-now")
    told = any(value not in (None, []) for value in what_ifs.values())
    begun_after(folder, after, what_if=told)
    joined = joining(
        folder,
        day_at_work(folder, writes=not (preview or any(what_ifs.values()))),
        add or [],
        fitting_minutes=fitting_minutes,
        switching_minutes=switching_minutes,
    )
    day = joined.day
    noise = {"pull_sd": pull_sd, "install_sd": install_sd, "wander_sd": wander_sd}
    asked = what_if(
        day,
        minutes=minutes,
        noise={key: value for key, value in noise.items() if value is not None},
        smallest_gains=change_values(day, "--smallest-gain", smallest_gain or []),
    )
    more = more_wishes(
        day,
        one_at_a_time=one_at_a_time,
        max_changeovers=max_changeovers,
        min_pulls=min_pulls,
        first=first,
        last=last,
        apart=apart,
        supply=supply,
    )
    if further or another:
        days = [folder, *(further or [])]
        if another:
            show_another_day(days, seed=seed, effort=effort, wishes=more, as_json=as_json, progress=search_bar)
            return
        plan_rented(
            days,
            seed=seed,
            effort=effort,
            fill=fill,
            wishes=more,
            new=new,
            yes=yes,
            details=details,
            as_json=as_json,
            progress=search_bar,
        )
        return
    if show_frontier:
        print_frontier(with_wishes(asked, more), seed, effort, figure, figures, as_json=as_json)
        return
    if told:
        _refuse({"--new": new}, "not with a what-if, which writes nothing")
    if not (from_now or told or new or more or ease is not None or any(whole.values())):
        there = plan_there(folder, day)
        if there is not None:
            drawing = {"--seed": seed is not None, "--effort": effort != "normal"}
            there = as_drawn_before(there, folder, day, drawing)
            show_plan(there, folder, figure, figures, as_json=as_json, details=details)
            if as_json:
                print(there.drawn_before, file=sys.stderr)
            return

    def make(with_effort: str, wishes: MoreWishes) -> Plan:
        working("planning")
        if from_now:
            return plan_rest(
                folder,
                asked,
                seed,
                with_effort,
                drop,
                keep,
                minutes_on,
                finish,
                pause,
                wishes,
                take,
                joined.added,
                fill,
                search_bar,
            )
        return plan_of(
            asked,
            seed=seed,
            effort=with_effort,
            fresh_refit=fresh_refit,
            fill=fill,
            after=after,
            wishes=wishes,
            progress=search_bar,
        )

    if not (from_now or told or ease == SHOW_ONLY) and not may_replace(folder, day, yes=yes):
        return
    if ease is not None:
        seed = seed_of_lines(folder, day, seed)
        lines = easier(make, effort, more, seed)
        if ease == SHOW_ONLY:
            _refuse({"--details": details}, "not with --ease alone, which shows a table")
            emit(lines, as_json=as_json)
            return
        more = with_fewer(more, lines.picked(ease).changeovers)
    made = with_false_verdicts(make(effort, more))
    notes = () if told or preview else joined.save(folder, made)
    show_plan(made, folder, figure, figures, as_json=as_json, details=details)
    if joined.assumed:
        print(joined.assumed, file=sys.stderr)
    if told or preview:
        print("what if: nothing was written" if told else "a preview: nothing was written", file=sys.stderr)
        return
    print(f"wrote {folder / 'plan.csv'}", *notes, sep="\n", file=sys.stderr)
    if from_now:
        say_taken(folder, made)


def _refuse(options: dict[str, object], why: str) -> None:
    """Refuse what would be ignored in silence."""
    from doe.errors import InputError

    given = [name for name, value in options.items() if value]
    if given:
        raise InputError(f"{', '.join(given)}: {why}")
