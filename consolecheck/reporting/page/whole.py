"""The page from its first line to its last, in the order in which a sceptic asks."""

from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from shlex import quote

from consolecheck.records.findings import Finding, Outcome, Verdict
from consolecheck.reporting.page import heat, rear, record, work
from consolecheck.reporting.page.evidence import Lines
from consolecheck.reporting.page.markup import NEWLINE, Html, joined, said, section, table, tag
from consolecheck.reporting.page.signs import OF_OUTCOME, OF_VERDICT, shape
from consolecheck.reporting.proof import Proof
from consolecheck.reporting.terminal import decides

NOTHING_FROM_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
_VERDICTS = {
    Verdict.VERIFIED: "Verified",
    Verdict.NOT_VERIFIED: "Not verified",
    Verdict.INCONCLUSIVE: "Inconclusive",
}
_MOST_REASONS = 12


def page(proof: Proof) -> str:
    """The whole proof of one swap as HTML: one file that fetches nothing and runs nothing."""
    lines = Lines(proof)
    parts = [
        _reasons(proof, lines),
        rear.rear(proof),
        heat.temperatures(proof),
        work.load(proof, lines),
        work.fans(proof),
        record.identity(proof, lines),
        record.seen(proof),
        record.clearance(proof, lines),
        record.standing(proof, lines),
        record.timeline(proof),
        record.findings(proof, lines),
        _texts(proof, lines),
        _digests(proof),
    ]
    verdict = _VERDICTS[proof.judgement.verdict]
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        Html(f'<meta http-equiv="Content-Security-Policy" content="{NOTHING_FROM_OUTSIDE}">'),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("title", f"{verdict}: {proof.judgement.unit}{_on(proof)}"),
        tag("style", _style()),
    )
    main = tag("main", _opening(proof), *parts, id="main")
    foot = tag(
        "footer",
        tag("p", "Written by consolecheck ", said(proof.version), ". This page fetches nothing and runs nothing."),
    )
    body = tag("body", tag("a", "Skip to the reasons", href="#reasons", class_="skip"), NEWLINE, main, foot)
    return "<!doctype html>\n" + tag("html", head, NEWLINE, body, lang="en") + "\n"


@cache
def _style() -> Html:
    return Html(files("consolecheck.reporting.page").joinpath("style.css").read_text(encoding="utf-8"))


def _on(proof: Proof) -> str:
    host = next(iter(proof.after.hosts), None)
    return f" on {host}" if host else ""


def _opening(proof: Proof) -> Html:
    """What was replaced where, the verdict, and by what it was judged."""
    judgement = proof.judgement
    name = OF_VERDICT[judgement.verdict]
    host = next(iter(proof.after.hosts), None)
    what = (
        "fan module"
        if judgement.unit.startswith("fan-")
        else "power supply"
        if judgement.unit.startswith("psu-")
        else "part"
    )
    kicker = joined(
        (f"Swap of {what} ", tag("b", said(judgement.unit)), *((" in switch ", tag("b", said(host))) if host else ()))
    )
    facts: list[tuple[str, str]] = []
    for key, label in (("ticket", "Ticket"), ("technician", "Technician"), ("started", "Begun"), ("line", "Console")):
        if proof.job.get(key):
            facts.append((label, said(str(proof.job[key]))))
    facts.append(
        (
            "Device family",
            said((proof.family or proof.after.dialect or "not known") + _own(proof)),
        )
    )
    facts.append(("Judged by", said(proof.limits.name)))
    if proof.reseat:
        facts.append(("Put back on purpose", said(proof.reseat)))
    if proof.seal is not None:
        facts.append(("Folder", said(proof.seal)))
    listed = [
        tag("div", tag("dt", label), tag("dd", value), class_="wide-fact" if label == "Folder" else None)
        for label, value in facts
    ]
    return tag(
        "header",
        tag("p", kicker, class_="kicker"),
        tag("h1", shape(name), _VERDICTS[judgement.verdict], class_=name),
        tag("p", _summary(proof), class_="summary"),
        tag("dl", *listed, class_="facts"),
        NEWLINE,
    )


def _own(proof: Proof) -> str:
    digest = proof.after.dialect_digest
    return f" (dialect {proof.after.dialect}, not a shipped one; SHA-256 {digest})" if digest else ""


def _summary(proof: Proof) -> Html:
    """The verdict in a sentence."""
    judgement = proof.judgement
    against, left = _against(judgement.findings), _open(judgement.findings)
    if judgement.verdict is Verdict.VERIFIED:
        if proof.before is None:
            return joined(
                (
                    said(judgement.unit),
                    " is the labelled part and the chassis keeps its limits. There was no capture before to compare with.",
                )
            )
        return joined(
            (
                said(judgement.unit),
                " was put back" if proof.reseat else " was replaced",
                ", and the chassis is as well as before.",
            )
        )
    if judgement.verdict is Verdict.NOT_VERIFIED:
        return joined([_number(len(against), "thing speaks", "things speak"), " against it."])
    if not left:
        return joined(["Not enough was read to decide."])
    return joined([_number(len({f.rule for f in left}), "question", "questions"), " could not be decided."])


_COUNTS = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine")


def _number(count: int, one: str, many: str) -> str:
    return f"{_COUNTS[count] if count < len(_COUNTS) else count} {one if count == 1 else many}"


def _against(findings: Sequence[Finding]) -> list[Finding]:
    return [f for f in findings if f.required and f.outcome is Outcome.UNMET]


def _open(findings: Sequence[Finding]) -> list[Finding]:
    return [f for f in findings if f.required and f.outcome is Outcome.UNDETERMINED]


def _reasons(proof: Proof, lines: Lines) -> Html:
    """What stands against the swap, what is open, what was met of that which decides."""
    findings, unit = proof.judgement.findings, proof.judgement.unit
    parts: list[str] = []
    for title, found in (("Against it", _against(findings)), ("Left open", _open(findings))):
        if found:
            told = [_reason(f, lines) for f in found[:_MOST_REASONS]]
            parts += [tag("h3", title), tag("ol", *told, class_="reasons")]
            if len(found) > len(told):
                parts.append(
                    tag(
                        "p",
                        f"and {len(found) - len(told)} more, in ",
                        tag("a", "every finding", href="#findings"),
                        class_="plain",
                    )
                )
    met = [f for f in findings if f.outcome is Outcome.MET and f.required and decides(f, unit)]
    if met:
        parts.append(
            tag("h3", "What decided it" if proof.judgement.verdict is Verdict.VERIFIED else "Met all the same")
        )
        parts.append(
            tag(
                "ul",
                *[
                    tag(
                        "li",
                        shape("good"),
                        tag("span", said(f.message), " ", tag("span", lines.links(f, 1), class_="at")),
                    )
                    for f in met
                ],
                class_="met",
            )
        )
    beside = [f for f in findings if not f.required and not f.standing and f.outcome is not Outcome.MET]
    if beside:
        items = [tag("li", said(f.message), " ", tag("span", lines.links(f, 1), class_="at")) for f in beside]
        parts += [tag("h3", "Beside the verdict"), tag("ul", *items)]
    if not proof.samples:
        parts.append(
            tag("p", "Judged at one moment: that the temperatures have settled is not shown by it.", class_="plain")
        )
    met_in_all = sum(f.outcome is Outcome.MET for f in findings)
    note = f"{met_in_all} of {len(findings)} findings are met."
    return section("reasons", "Why", *parts, note=note)


def _reason(finding: Finding, lines: Lines) -> Html:
    name = OF_OUTCOME[finding.outcome]
    return tag(
        "li",
        shape(name),
        tag(
            "div",
            tag("p", said(finding.message), class_="message"),
            lines.excerpt(finding),
            tag("p", tag("b", "Do: "), said(finding.hint), class_="do") if finding.hint else "",
        ),
    )


def _texts(proof: Proof, lines: Lines) -> Html:
    parts: list[str] = []
    snapshots = {"after": proof.after, "before": proof.before}
    for side in ("after", "before"):
        snapshot = snapshots[side]
        if side not in lines.texts or snapshot is None:
            continue
        parts.append(tag("h3", said(snapshot.source), f", {side} the swap"))
        parts.append(lines.text(side))
    note = (
        "As received. Lines on which a finding rests are set in strong type, the columns that decided are "
        "underlined; control characters are shown by their numbers."
    )
    return section("texts", "The captured texts", *parts, note=note)


def _digests(proof: Proof) -> Html:
    rows = [[said(name), tag("code", digest, class_="digest")] for name, digest in proof.digests.items()]
    parts: list[str] = [table("SHA-256 of the files as they were given", ["File", "SHA-256"], rows)] if rows else []
    if proof.seal is not None:
        parts.append(tag("p", tag("b", "Seal: "), said(proof.seal), ".", class_="plain seal"))
    how = [tag("li", "Compare the digests: ", tag("code", "sha256sum ", " ".join(quote(n) for n in proof.digests)))]
    told, command = "Judge it again from what was captured: ", f"--after {quote(proof.after.source)}"
    if proof.folder is not None:
        told, command = "Judge it again from the folder, whose seal is checked first: ", quote(proof.folder)
    else:
        if proof.before is not None:
            command = f"--before {quote(proof.before.source)} {command}"
        command += f" --unit {quote(proof.judgement.unit)}"
    how.append(tag("li", told, tag("code", f"consolecheck replay {command}")))
    parts += [tag("h3", "How to check it"), tag("ul", *how, class_="how")]
    return section("digests", "Digests and seal", *parts)
