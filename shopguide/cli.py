"""The verbs of the command line: each prints what it found and answers with an exit code."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from shopguide import __version__
from shopguide.errors import SheetTrouble, Trouble

# Whatever is large (pydantic, pint, the record, the paper) is imported inside the verb that wants
# it, so that the small verbs answer at once.
if TYPE_CHECKING:
    from shopguide.bolts.order import Order
    from shopguide.bolts.pattern import Pattern
    from shopguide.job.files import OpenedSheet
    from shopguide.job.model import Sheet
    from shopguide.paper.identity import Identity
    from shopguide.torque.units import Amount

GOOD, WANTING, CANNOT = 0, 1, 2
"""Exit codes: all well; the thing looked at is found wanting; the verb could not be carried out."""

PASSPHRASE_VARIABLE = "SHOPGUIDE_PASSPHRASE"
SAMPLE = "sample_jobs/gearbox_sump_cover"

HELP = f"""\
verbs:
  review SHEET                     what is wrong with a job sheet, before anyone works from it
  order SHEET [--pattern NAME]     tightening order and passes of its patterns
  order --circle N                 the order for N fasteners on a circle
  order --points FILE.csv          the order for any positions (number,x_mm,y_mm)
  evenness SHEET [--pattern NAME]  how evenly its joints will end: a forecast, typical figures
  screw --thread M8x1 --class 10.9 what a screw takes; with --torque, what that does to it
  torque "12 N·m"                  a torque in all units; with an adapter, what to set
  socket HEAD SOCKET               how a socket sits on a head of another system
  compare OLD NEW                  what changed between two revisions of a sheet
  card SHEET --out FILE.pdf        the sheet on paper, with boxes to tick by hand
  pack SHEET --out FILE.zip        a sheet and its pictures in one file, to hand on
  unpack FILE.zip --out DIR        such a file as a folder again
  rehearse SHEET --out DIR         works a sheet through by itself; pictures and PDF go to DIR
  export RECORD --out FILE.pdf     the signed PDF of a record
  verify FILE                      checks a PDF or a record file

"shopguide VERB --help" tells more. Exit code: 0 good, 1 found wanting, 2 cannot run.

examples:
  shopguide                                  the window
  shopguide {SAMPLE}   the window, with the sample job sheet
  shopguide review {SAMPLE}
  shopguide order {SAMPLE} --pattern cover
  shopguide order --circle 12 --json
  shopguide evenness {SAMPLE} --pattern cover
  shopguide screw --thread M6 --class 8.8 --torque "9 N·m" --condition oiled
  shopguide torque "12 N·m" --wrench-length "300 mm" --adapter "40 mm" --angle 45
  shopguide card {SAMPLE} --out card.pdf --page Letter
  shopguide rehearse {SAMPLE} --out rehearsal
  shopguide verify service.pdf --remember "Anna's workshop"

A sheet is a folder with a job.json, or the same zipped. A file that has the name of a verb is
opened as ./review.
"""


class _Words(argparse.ArgumentParser):
    """A parser whose complaints are Troubles like all others."""

    def error(self, message: str) -> NoReturn:
        raise Trouble(
            f"{message[:1].upper()}{message[1:]}.",
            where=f"command line of {self.prog}",
            next=f'"{self.prog} --help" shows what can be written.',
        )


def run(
    words: Sequence[str],
    *,
    open_window: Callable[[Path | None], int],
    rehearse: Callable[[Path, Path], list[Path]],
    write_log: Callable[[BaseException], Path | None],
) -> int:
    """Carry out a command line; returns its exit code and raises nothing.

    open_window and rehearse are the window's own; write_log takes what nobody expected.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            # A terminal that lacks a sign of the trade shows another one and does not end it all.
            stream.reconfigure(errors="replace")
    verbs: dict[str, Callable[[argparse.Namespace], int]] = {
        "review": review,
        "order": order,
        "evenness": evenness,
        "screw": screw,
        "torque": torque,
        "socket": socket,
        "compare": compare,
        "card": card,
        "pack": pack,
        "unpack": unpack,
        "rehearse": lambda given: run_rehearsal(given, rehearse),
        "export": export,
        "verify": verify,
    }
    try:
        if words and words[0] in verbs:
            given = _make_verb_parser(words[0]).parse_args(list(words[1:]))
            code = verbs[words[0]](given)
            sys.stdout.flush()
            return code
        given = _make_parser().parse_args(list(words))
        if given.path is not None and not given.path.exists():
            raise Trouble(
                "There is neither a verb nor a file of this name.",
                where=str(given.path),
                next=f"Check the name, or write one of the verbs {', '.join(verbs)}.",
            )
        return open_window(given.path)
    except Trouble as trouble:
        tell(trouble)
        return CANNOT
    except SystemExit as end:  # argparse, after --help and --version
        return end.code if isinstance(end.code, int) else GOOD
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        # Whoever read our words has gone; Python must not complain of it once more at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CANNOT
    except Exception as fault:
        path = write_log(fault)
        where = f" The details are in {path}." if path is not None else ""
        print(f"shopguide met a fault of its own and stopped.{where}", file=sys.stderr)
        return CANNOT


def tell(trouble: Trouble) -> None:
    """Print a trouble on standard error: where, what happened, what to do next."""
    lines = [f"{trouble.where}: {trouble.what}" if trouble.where else trouble.what]
    if isinstance(trouble, SheetTrouble):
        lines += [f"  - {fault}" for fault in trouble.troubles]
    if trouble.next:
        lines.append(trouble.next)
    print("\n".join(lines), file=sys.stderr)


# --- the command line ---------------------------------------------------------------------------


def _make_parser() -> argparse.ArgumentParser:
    parser = _Words(
        prog="shopguide",
        usage="shopguide [PATH]\n       shopguide VERB ...",
        description="A job sheet for a cover with many small screws: followed, torqued, signed.",
        epilog=HELP,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "path", nargs="?", type=Path, metavar="PATH", help="a job sheet or a record to open"
    )
    parser.add_argument("--version", action="version", version=f"shopguide {__version__}")
    return parser


def _make_verb_parser(verb: str) -> argparse.ArgumentParser:
    about, fill = {
        "review": ("Tells what is wrong with a job sheet.", _fill_review),
        "order": (
            "Tells the tightening order, and the passes where there is a sheet.",
            _fill_order,
        ),
        "evenness": (
            "Tells how evenly a joint will be clamped: a forecast from typical figures.",
            _fill_evenness,
        ),
        "screw": (
            "Tells what a screw takes. An estimate: it never replaces the manual's figure.",
            _fill_screw,
        ),
        "torque": (
            "Tells a torque in all units, and what to set with a crow-foot or extension.",
            _fill_torque,
        ),
        "socket": (
            "Tells how a socket sits on a head: fits, sloppy, or does not go on.",
            _fill_socket,
        ),
        "compare": ("Tells what changed between two revisions of a job sheet.", _fill_compare),
        "card": ("Writes a job sheet as a PDF that is filled in by hand.", _fill_card),
        "pack": ("Packs a job sheet and the pictures it uses into one zip.", _fill_pack),
        "unpack": ("Unpacks a zipped job sheet into a folder that is new or empty.", _fill_unpack),
        "rehearse": ("Works a job sheet through by itself, in the real window.", _fill_rehearse),
        "export": ("Writes the signed PDF of a record.", _fill_export),
        "verify": (
            "Checks a signed PDF or a record file, and says no more than it saw.",
            _fill_verify,
        ),
    }[verb]
    parser = _Words(prog=f"shopguide {verb}", description=about)
    fill(parser)
    return parser


def _fill_review(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheet", type=Path, metavar="SHEET")
    parser.add_argument("--json", action="store_true", help="print the findings as JSON")
    parser.epilog = (
        f"example: shopguide review {SAMPLE}. "
        "Exit code: 0 nothing found but hints, 1 something stops work or wants an answer (also: "
        "the sheet does not open), 2 there is no such sheet."
    )


def _fill_order(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheet", type=Path, nargs="?", metavar="SHEET")
    parser.add_argument("--pattern", metavar="NAME", help="only this pattern of the sheet")
    parser.add_argument("--circle", type=int, metavar="N", help="N fasteners on a circle")
    parser.add_argument(
        "--points", type=Path, metavar="FILE.csv", help="positions: number,x_mm,y_mm on each line"
    )
    parser.add_argument("--json", action="store_true", help="print the order as JSON")
    parser.epilog = "example: shopguide order --circle 12"


def _fill_evenness(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheet", type=Path, metavar="SHEET")
    parser.add_argument("--pattern", metavar="NAME", help="only this pattern of the sheet")
    parser.add_argument("--json", action="store_true", help="print the forecast as JSON")
    parser.epilog = f"example: shopguide evenness {SAMPLE} --pattern cover"


def _fill_socket(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("head", metavar="HEAD", help='width across flats: "13 mm", "1/2 in"')
    parser.add_argument("socket", metavar="SOCKET", help="size of the socket")
    parser.add_argument("--json", action="store_true", help="print it as JSON")
    parser.epilog = 'example: shopguide socket "13 mm" "1/2 in"'


def _fill_screw(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--thread", required=True, help="M6, M8x1, 3/8-16, #10-32")
    parser.add_argument(
        "--class", required=True, dest="grade", metavar="CLASS", help='8.8, 10.9, A2-70, "grade 5"'
    )
    parser.add_argument(
        "--friction",
        type=float,
        metavar="MU",
        help="in thread and under head; else 0.12 is assumed",
    )
    parser.add_argument("--torque", metavar='"25 N·m"', help="what this torque does to the screw")
    parser.add_argument(
        "--condition", help="of the screw at that torque: dry, oiled, zinc plated …"
    )
    parser.add_argument(
        "--grip", metavar='"30 mm"', help="thickness clamped: tells the force that a degree adds"
    )
    parser.add_argument(
        "--parts", choices=("steel", "alloy"), default="steel", help="what is clamped (steel)"
    )
    parser.add_argument(
        "--engagement", metavar='"12 mm"', help="thread in a tapped hole: tells whether it strips"
    )
    parser.add_argument(
        "--hole-strength", type=float, metavar="N/mm²", help="tensile strength of the tapped part"
    )
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")
    parser.epilog = (
        "example: shopguide screw --thread M8x1 --class 10.9 --friction 0.12. "
        "Exit code 1: the torque is far outside what the screw usually takes, or strips the hole."
    )


def _fill_torque(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("torque", metavar='"12 N·m"', help="the torque at the screw, with its unit")
    parser.add_argument(
        "--wrench-length", metavar='"300 mm"', help="from the middle of the drive to the grip's"
    )
    parser.add_argument(
        "--adapter", metavar='"40 mm"', help="length of a crow-foot or lever extension"
    )
    parser.add_argument(
        "--angle", metavar="DEGREES", help="of the adapter: 0 straight out (if none), 180 backwards"
    )
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")
    parser.epilog = (
        'example: shopguide torque "12 N·m" --wrench-length "300 mm" --adapter "40 mm" --angle 45. '
        "An extension along the drive axis changes nothing: leave it out."
    )


def _fill_compare(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("old", type=Path, metavar="OLD", help="the earlier sheet")
    parser.add_argument("new", type=Path, metavar="NEW", help="the later sheet")
    parser.add_argument("--json", action="store_true", help="print the changes as JSON")
    parser.epilog = (
        "example: shopguide compare sump_cover.zip sump_cover. "
        "Exit code 1: the two differ, pictures included."
    )


def _fill_card(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheet", type=Path, metavar="SHEET")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.pdf")
    parser.add_argument("--page", choices=("A4", "Letter"), default="A4")
    parser.epilog = f"example: shopguide card {SAMPLE} --out card.pdf"


def _fill_pack(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheet", type=Path, metavar="SHEET")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.zip")
    parser.epilog = f"example: shopguide pack {SAMPLE} --out sump_cover.zip"


def _fill_unpack(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE.zip")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="new or empty")
    parser.epilog = "example: shopguide unpack sump_cover.zip --out sump_cover"


def _fill_rehearse(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheet", type=Path, metavar="SHEET")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="where the files go")
    parser.epilog = f"example: shopguide rehearse {SAMPLE} --out rehearsal"


def _fill_export(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("record", type=Path, metavar="RECORD")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.pdf")
    parser.add_argument("--page", choices=("A4", "Letter"), default="A4")
    parser.add_argument("--prices", action="store_true", help="print the prices of the parts")
    parser.add_argument("--name", help="your name in the key, when this makes the first one")
    parser.epilog = (
        "The key that signs is made at its first use. Where no keyring keeps it, its passphrase "
        f"is taken from {PASSPHRASE_VARIABLE} or asked for."
    )


def _fill_verify(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE", help="a PDF or a record file")
    parser.add_argument("--json", action="store_true", help="print the verdict as JSON")
    parser.add_argument(
        "--remember", metavar="NAME", help="keep the PDF's key as seen, under this name"
    )


# --- review and order ---------------------------------------------------------------------------


def review(given: argparse.Namespace) -> int:
    """Print the findings about a sheet; WANTING where something stops work or wants an answer."""
    from shopguide.review.findings import review_opened
    from shopguide.review.unfinished import review_unfinished

    path = _find_file(given.sheet)
    try:
        opened = _load(path)
    except SheetTrouble as trouble:
        title, findings = path.name, review_unfinished(path, trouble)
    else:
        title, findings = opened.sheet.title, review_opened(opened)
    if given.json:
        told = [finding.as_full_dict() for finding in findings]
        _print_json({"sheet": title, "findings": told})
    else:
        print(f"{title}: {_tell_count(len(findings))}")
        for finding in findings:
            print(f"\n{finding.tell()}")
    return WANTING if any(finding.severity != "hint" for finding in findings) else GOOD


def order(given: argparse.Namespace) -> int:
    """Print the order of a sheet's patterns, of a circle, or of a table of positions."""
    ways = [w for w in (given.sheet, given.circle, given.points) if w is not None]
    if len(ways) != 1 or (given.pattern is not None and given.sheet is None):
        raise Trouble(
            "An order is found for a sheet, for --circle, or for --points: exactly one of them; "
            "--pattern belongs to a sheet.",
            where="command line of shopguide order",
            next=f'Write for instance "shopguide order {SAMPLE}".',
        )
    if given.sheet is not None:
        return _order_of_sheet(given)
    from shopguide.bolts.order import compute_order
    from shopguide.bolts.pattern import MOST_FASTENERS, Circle
    from shopguide.bolts.positions import read_points

    if given.circle is not None:
        if not 1 <= given.circle <= MOST_FASTENERS:
            raise Trouble(
                f"A circle of {given.circle} fasteners cannot be put in order.",
                where="--circle",
                next=f"Write a number from 1 to {MOST_FASTENERS}.",
            )
        seats = Circle(count=given.circle, diameter_mm=100).points()
        points = [(number, x, y) for number, (x, y) in enumerate(seats, 1)]
        said = f"circle of {given.circle}, numbered clockwise"
    else:
        points = read_points(given.points)
        said = f"{given.points.name}, {len(points)} fasteners"
    numbers = compute_order(points)
    if given.json:
        _print_json({"order": list(numbers), "by": "computed"})
    else:
        print(f"{said}: computed order\n{_list(numbers)}")
    return GOOD


def _order_of_sheet(given: argparse.Namespace) -> int:
    from shopguide.bolts.order import compute_pattern_order, find_order

    sheet = _load(_find_file(given.sheet)).sheet
    patterns = _find_patterns(sheet, given)
    found = [(pattern, find_order(pattern)) for pattern in patterns]
    if given.json:
        plain = [_describe_pattern(sheet, pattern, tightening) for pattern, tightening in found]
        _print_json(plain[0] if given.pattern else {**plain[0], "patterns": plain})
        return GOOD
    for index, (pattern, tightening) in enumerate(found):
        print(("\n" if index else "") + f"{pattern.title} ({pattern.name}): {tightening.tell()}")
        print(_list(tightening.numbers))
        if pattern.order_source:
            print(f"source: {pattern.order_source}")
        if tightening.by != "computed":
            print(tightening.tell_difference(compute_pattern_order(pattern)))
        for told in _list_passes(sheet, pattern, tightening):
            print(f"{told['where']}:")
            for one in told["passes"]:
                print(f"  pass {one['pass']}: {one['tell']}: {_list(one['order'])}")
            print(f"  total pulls: {told['pulls']}")
    return GOOD


def socket(given: argparse.Namespace) -> int:
    """Print how a socket sits on a head."""
    from shopguide.torque.sockets import compare

    fit = compare(given.head, given.socket)
    if given.json:
        _print_json({"verdict": fit.verdict, "play_mm": round(fit.play_mm, 3), "says": fit.tell()})
    else:
        print(fit.tell())
    return GOOD if fit.verdict == "fits" else WANTING


def _find_patterns(sheet: Sheet, given: argparse.Namespace) -> list[Pattern]:
    """The pattern that was asked for, or all of them; never none."""
    patterns = [p for p in sheet.patterns if given.pattern in (None, p.name)]
    if not patterns:
        names = ", ".join(p.name for p in sheet.patterns)
        raise Trouble(
            f'The sheet has no pattern "{given.pattern}".'
            if names
            else "The sheet has no pattern.",
            where=str(given.sheet),
            next=f"It has: {names}." if names else "Give it a pattern.",
        )
    return patterns


def _describe_pattern(sheet: Sheet, pattern: Pattern, order: Order) -> dict[str, Any]:
    return {
        "pattern": pattern.name,
        "order": list(order.numbers),
        "by": order.by,
        "tasks": _list_passes(sheet, pattern, order),
    }


def _list_passes(sheet: Sheet, pattern: Pattern, order: Order) -> list[dict[str, Any]]:
    """Each torque task on the pattern, with its passes and the way that each of them goes."""
    from shopguide.bolts.order import travel
    from shopguide.job.model import Torque

    told = []
    for address, task in sheet.tasks.items():
        if not isinstance(task, Torque) or task.pattern != pattern.name:
            continue
        place = sheet.step_of(address)
        passes = []
        for number, one in enumerate(task.schedule, 1):
            name = task.spec_of(one)
            figure = sheet.spec(name).tell() if name else ""
            passes.append(
                {
                    "pass": number,
                    "kind": one.kind,
                    "tell": f"{one.tell()}, {figure}" if figure else one.tell(),
                    "order": list(travel(order, pattern, one.travel)),
                }
            )
        told.append(
            {
                "task": address,
                "where": f"step {place.number}, '{place.step.title}'",
                "passes": passes,
                "pulls": sum(len(one["order"]) for one in passes),
            }
        )
    return told


# --- evenness -----------------------------------------------------------------------------------


def evenness(given: argparse.Namespace) -> int:
    """Print how evenly the joints of a sheet will end, each in its order and passes."""
    sheet = _load(_find_file(given.sheet)).sheet
    patterns = _find_patterns(sheet, given)
    plain, troubles = _forecast_patterns(sheet, patterns)
    if not plain:
        raise troubles[0]
    if given.json:
        _print_json(plain[0] if len(plain) == 1 else {**plain[0], "patterns": plain})
        return GOOD
    for index, told in enumerate(plain):
        print(("\n" if index else "") + f"{told['title']} ({told['pattern']}), {told['where']}")
        for line in told["table"]:
            print(f"  {line}")
        for sentence in told["words"]:
            print(sentence)
    for trouble in troubles:
        print(f"\n{trouble}")
    return GOOD


def _forecast_patterns(
    sheet: Sheet, patterns: Sequence[Pattern]
) -> tuple[list[dict[str, Any]], list[Trouble]]:
    """A forecast for each torque task on the patterns, and why there is none for the others."""
    from shopguide.bolts.evenness import forecast_evenness, read_torques_nm
    from shopguide.bolts.order import find_order
    from shopguide.job.model import Torque

    plain: list[dict[str, Any]] = []
    troubles: list[Trouble] = []
    for pattern in patterns:
        tasks = [
            (address, task)
            for address, task in sheet.tasks.items()
            if isinstance(task, Torque) and task.pattern == pattern.name
        ]
        if not tasks:
            troubles.append(
                Trouble(
                    "No task tightens this pattern.",
                    where=pattern.title,
                    next="Give the sheet a torque task with it.",
                )
            )
        for address, task in tasks:
            names = [task.spec_of(one) for one in task.schedule]
            torques = read_torques_nm([sheet.spec(name) if name else None for name in names])
            try:
                found = forecast_evenness(
                    pattern, find_order(pattern).numbers, task.schedule, torques_nm=torques
                )
            except Trouble as trouble:
                troubles.append(trouble)
                continue
            place = sheet.step_of(address)
            plain.append(
                {
                    **found.as_dict(),
                    "title": pattern.title,
                    "task": address,
                    "where": f"step {place.number}, '{place.step.title}'",
                    "table": found.tell_table(),
                }
            )
    return plain, troubles


# --- screw --------------------------------------------------------------------------------------


def screw(given: argparse.Namespace) -> int:
    """Print what a screw takes; WANTING where a torque is far outside it or strips the hole."""
    from shopguide.torque import joint, units
    from shopguide.torque.screw_report import screw_report

    if given.condition is not None and given.torque is None:
        raise Trouble(
            "A condition says how a torque turns into force, and no torque is given.",
            where="command line of shopguide screw",
            next='Write --torque too, for instance --torque "9 N·m".',
        )
    if (given.engagement is None) != (given.hole_strength is None):
        raise Trouble(
            "Whether a hole strips takes both the engaged thread and the strength of the part.",
            where="command line of shopguide screw",
            next='Write for instance --engagement "12 mm" --hole-strength 180.',
        )
    torque = None if given.torque is None else units.read(given.torque, units.Kind.TORQUE)
    report = screw_report(
        given.thread,
        given.grade,
        friction=given.friction,
        torque=torque,
        condition=given.condition,
    )
    told, lines = report.as_dict(), list(report.tell())
    wanting = report.verdict in ("far above", "far below")
    if given.grip is not None:
        grip_mm = units.read(given.grip, units.Kind.LENGTH).base
        stiffness = joint.estimate_stiffness(report.thread, grip_mm, joint.MODULUS_MPA[given.parts])
        force_n = joint.force_per_degree(report.thread, stiffness.joint_n_per_mm)
        told["per_degree"] = {"value": force_n, "unit": "N"}
        lines.insert(-1, f"a degree more adds about {force_n:.0f} N until it yields (estimate)")
    if given.engagement is not None:
        engagement_mm = units.read(given.engagement, units.Kind.LENGTH).base
        hole = joint.estimate_stripping(
            report.thread, report.strength, engagement_mm, given.hole_strength
        )
        told["strips_at"] = {"value": hole.strips_at_n, "unit": "N"}
        told["engagement_needed"] = {"value": hole.engagement_needed_mm, "unit": "mm"}
        lines.insert(-1, hole.tell())
        if report.clamp is not None:
            lines.insert(-1, hole.tell_at(report.clamp.low_n, report.clamp.high_n))
            wanting = wanting or hole.strips_at_n < report.clamp.low_n
    if given.json:
        _print_json(told)
    else:
        print("\n".join(lines))
    return WANTING if wanting else GOOD


# --- torque -------------------------------------------------------------------------------------


def torque(given: argparse.Namespace) -> int:
    """Print a torque in all units and, with wrench and adapter, what to set in its own unit."""
    from shopguide.torque import adapter as adapters
    from shopguide.torque import units

    wanted = units.read(given.torque, units.Kind.TORQUE)
    lever = _read_lever(given)
    one = adapters.read_adapter(
        {"length": given.adapter, "angle": given.angle, "kind": adapters.LEVER}
        if given.adapter is not None
        else {}
    )
    setting = None
    if lever is not None:
        setting = float(wanted.value) / adapters.find_share(one, lever)
    others = [units.read_any(text) for text in units.tell_all(wanted)[1:]]
    if given.json:
        plain: dict[str, Any] = {
            "torque": {"value": float(wanted.value), "unit": wanted.unit},
            "units": [
                {"value": units.in_unit(wanted, unit), "unit": unit}
                for unit in (wanted.unit, *(other.unit for other in others))
            ],
        }
        if setting is not None:
            plain["setting"] = {"value": setting, "unit": wanted.unit}
        _print_json(plain)
        return GOOD
    print(wanted.text)
    for other in others:
        print(f"  {other.text}")
    if setting is not None:
        said = f" with the {one.length.text} adapter at {one.angle.text}" if one else ""
        print(f"Set {setting:.4g} {wanted.unit}{said}.")
        if one is None:
            print("Without an adapter the torque itself is set.")
        else:
            print(f"{adapters.explain(one)}\n{adapters.HAND}")
    return GOOD


def _read_lever(given: argparse.Namespace) -> Amount | None:
    from shopguide.torque import units

    where = "command line of shopguide torque"
    if given.angle is not None and given.adapter is None:
        raise Trouble(
            "An angle is that of an adapter, and no adapter is given.",
            where=where,
            next='Write --adapter too, for instance --adapter "40 mm".',
        )
    if given.wrench_length is None:
        if given.adapter is not None:
            raise Trouble(
                "What to set with an adapter depends on the length of the wrench, which is not "
                "given.",
                where=where,
                next="Measure from the middle of the drive to the middle of the grip and write for "
                'instance --wrench-length "300 mm".',
            )
        return None
    lever = units.read(given.wrench_length, units.Kind.LENGTH)
    if lever.base <= 0:
        raise Trouble(
            "A wrench has a length above nought.",
            where="--wrench-length",
            next='Write for instance --wrench-length "300 mm".',
        )
    return lever


# --- rehearse, export, verify -------------------------------------------------------------------


def compare(given: argparse.Namespace) -> int:
    """Print what changed from one sheet to another; WANTING where they differ."""
    from shopguide.job.compare import compare_pictures, compare_sheets

    old, new = _load(_find_file(given.old)), _load(_find_file(given.new))
    changes = (*compare_sheets(old.sheet, new.sheet), *compare_pictures(old, new))
    if given.json:
        _print_json(
            {
                "old": old.sheet.title,
                "new": new.sheet.title,
                "changes": [change.as_dict() for change in changes],
            }
        )
    else:
        count = f"{len(changes)} change{'' if len(changes) == 1 else 's'}"
        print(f"{new.sheet.title}: {count if changes else 'nothing changed'}")
        for change in changes:
            print(f"  {change.sort}: {change.tell()}")
    return WANTING if changes else GOOD


def card(given: argparse.Namespace) -> int:
    """Write the sheet as a job card to fill in by hand."""
    from shopguide.job.saving import write_atomically
    from shopguide.paper.job_card import make_job_card

    if given.out.suffix.casefold() != ".pdf":
        raise Trouble(
            f"{given.out.name} does not end in .pdf.", str(given.out), "Name it so that it does."
        )
    opened = _load(_find_file(given.sheet))
    write_atomically(given.out, make_job_card(opened, given.page))
    print(f"Written: {given.out}")
    return GOOD


def pack(given: argparse.Namespace) -> int:
    """Pack a sheet into one zip."""
    from shopguide.job import sharing

    handed = sharing.pack(_find_file(given.sheet), given.out)
    print("\n".join((f"Packed: {given.out}", *handed.tell())))
    return GOOD


def unpack(given: argparse.Namespace) -> int:
    """Unpack a zipped sheet into a folder of its own."""
    from shopguide.job import sharing

    handed = sharing.unpack(_find_file(given.file), given.out)
    print("\n".join((f"Unpacked: {given.out}", *handed.tell())))
    return GOOD


def run_rehearsal(given: argparse.Namespace, rehearse: Callable[[Path, Path], list[Path]]) -> int:
    """Rehearse a sheet and name the files that came of it."""
    files = rehearse(_find_file(given.sheet), given.out)
    print("The rehearsal is over. It left:")
    for path in files:
        print(f"  {path}")
    return GOOD


def export(given: argparse.Namespace) -> int:
    """Write the signed PDF of a record."""
    from datetime import UTC, datetime

    from shopguide.job.files import read_sheet
    from shopguide.paper import identity as keys
    from shopguide.paper.make import make_paper, sign_and_write
    from shopguide.paper.request import request_from
    from shopguide.record.file import RecordFile
    from shopguide.work.progress import fold

    path = _find_file(given.record)
    record = RecordFile.open(path, read_only=True)
    try:
        sheet = read_sheet(record.sheet_raw(), where=path.name)
        progress = fold(sheet, record.events())
        name = given.name or ""
        if not name and progress.signed is not None:
            name = str(progress.signed.data.get("name", ""))
        name = name or str(progress.laid_out.get("person", ""))
        # A rehearsal must never carry the owner's own signature.
        identity = keys.throwaway_identity("REHEARSAL") if progress.rehearsal else _get_key(name)
        now = datetime.now(UTC)
        request = request_from(
            record,
            sheet,
            page=given.page,
            made_at=now,
            program=f"shopguide {__version__}",
            fingerprint=keys.tell_fingerprint(identity.fingerprint),
            prices=given.prices,
        )
        sign_and_write(
            make_paper(request), identity, given.out, reason="own record of work", signed_at=now
        )
    finally:
        record.close()
    print(f"Written and signed: {given.out}")
    if progress.signed is None:
        print("The record itself is not signed off yet; the paper says so.")
    print(f"Key: {keys.tell_fingerprint(identity.fingerprint)}")
    return GOOD


def _get_key(name: str) -> Identity:
    """The owner's key, made if there is none yet."""
    from shopguide import places
    from shopguide.paper import identity as keys

    folder = places.identity_folder()
    new = not keys.exists(folder)
    if new and not name:
        raise Trouble(
            "The key that signs is made now, and it needs your name.",
            where="command line of shopguide export",
            next='Write --name "Your Name".',
        )
    passphrase = _ask_passphrase(new) if keys.needs_passphrase(folder) else None
    if not new:
        return keys.open_identity(folder, passphrase)
    return keys.make_identity(folder, name, passphrase)


def _ask_passphrase(new: bool) -> str:
    given = os.environ.get(PASSPHRASE_VARIABLE, "")
    if given:
        return given
    if sys.stdin is None or not sys.stdin.isatty():
        raise Trouble(
            "The key that signs is kept under a passphrase, and no terminal is here to ask for it.",
            where="shopguide export",
            next=f"Put it into the environment variable {PASSPHRASE_VARIABLE}.",
        )
    from getpass import getpass

    if not new:
        return getpass("Passphrase of your key: ")
    first = getpass("Choose a passphrase for your new key (without it the key is lost): ")
    if getpass("The passphrase once more: ") != first:
        raise Trouble("The two passphrases differ.", where="shopguide export", next="Start again.")
    return first


def verify(given: argparse.Namespace) -> int:
    """Say what can be said of a PDF or a record file."""
    path = _find_file(given.file)
    head = _read_head(path)
    if head.startswith(b"SQLite format 3\0"):
        return _verify_record(path, given)
    if b"%PDF-" in head:
        return _verify_paper(path, given)
    raise Trouble(
        "The file is neither a PDF nor a record.",
        where=str(path),
        next="Give a PDF that shopguide wrote, or a file that ends in .shopguide.",
    )


def _verify_record(path: Path, given: argparse.Namespace) -> int:
    from shopguide.record.file import verify_record

    if given.remember is not None:
        raise Trouble(
            "A record file carries no key that could be remembered.",
            where=str(path),
            next="Give the signed PDF with --remember.",
        )
    verdict = verify_record(path)
    if given.json:
        _print_json(verdict.as_dict())
    else:
        print(verdict.tell())
    return GOOD if verdict.good else WANTING


def _verify_paper(path: Path, given: argparse.Namespace) -> int:
    from datetime import UTC, datetime

    from shopguide import places
    from shopguide.paper import known_keys
    from shopguide.paper.verify import verify_paper

    folder = places.identity_folder()
    verdict = verify_paper(_read(path), known_keys.read_known(folder))
    if given.json:
        _print_json(verdict.as_dict())
    else:
        print(verdict.tell())
    if given.remember is not None:
        if not verdict.fingerprint:
            raise Trouble(
                "There is no key in this paper that could be remembered.",
                where=str(path),
                next="Ask for a signed one.",
            )
        known_keys.remember(folder, verdict.fingerprint, given.remember, datetime.now(UTC))
        print(f"This key is remembered as: {given.remember}", file=sys.stderr)
    return GOOD if verdict.good else WANTING


# --- files and words ----------------------------------------------------------------------------


def _find_file(path: Path) -> Path:
    if not path.exists():
        raise Trouble(
            "There is nothing of this name.", where=str(path), next="Check the name and the folder."
        )
    return path


def _load(path: Path) -> OpenedSheet:
    from shopguide.job.files import load_sheet

    return load_sheet(path)


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise Trouble(
            f"The file cannot be read ({error.strerror or error}).",
            where=str(path),
            next="Check that it is a file and that you may read it.",
        ) from None


def _read_head(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(1024)
    except OSError as error:
        raise Trouble(
            f"The file cannot be read ({error.strerror or error}).",
            where=str(path),
            next="Check that it is a file and that you may read it.",
        ) from None


def _print_json(data: Any) -> None:
    # Plain ASCII, so that it reads the same whatever the terminal takes the bytes for.
    print(json.dumps(data))


def _list(numbers: Sequence[int]) -> str:
    return " ".join(str(number) for number in numbers)


def _tell_count(count: int) -> str:
    return "no findings" if not count else f"{count} finding{'s' if count > 1 else ''}"
