"""Sizes a site: a verdict, findings worst first, and every number behind them."""

from dataclasses import dataclass

from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.finding import Finding, sort_findings
from leafwinch_sim.sizing.findings_drive import drive_findings
from leafwinch_sim.sizing.findings_lift import lift_findings
from leafwinch_sim.sizing.findings_places import place_findings
from leafwinch_sim.sizing.findings_rope import rope_findings
from leafwinch_sim.sizing.parts import Parts, parts_of
from leafwinch_sim.sizing.uncertainty import Band, bands
from leafwinch_sim.sizing.worked import work_out
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

YES, CONDITIONS, NO = "yes", "with conditions", "no"
SENTENCES = {
    YES: "The winch can move this deck as it is described.",
    CONDITIONS: "The winch can move this deck, under the conditions below.",
    NO: "Do not build it so.",
}


@dataclass(frozen=True, slots=True)
class Sizing:
    """The sizing of one site.

    Attributes:
        verdict: 'yes', 'with conditions' or 'no'.
        findings: worst first.
        parts: every number behind them.
        bands: what is uncertain, over the healthy spread.
    """

    verdict: str
    findings: list[Finding]
    parts: Parts
    bands: list[Band]

    @property
    def settings(self) -> dict[str, int]:
        """The settings that follow, by name."""
        return {row.name: row.value for row in self.parts.settings}


def size_site(site: Site, net: Netlist, seed: int = 1) -> Sizing:
    """Size a site; the same seed gives the same bands.

    Raises:
        BadInput: the wiring has no controller whose settings could be found.
    """
    if not net.has_controller:
        raise BadInput(f"Wiring {net.name} has no controller, so there is nothing to set.")
    parts = parts_of(work_out(site, net))
    findings = sort_findings(
        [
            *lift_findings(parts),
            *place_findings(parts),
            *rope_findings(parts),
            *drive_findings(parts),
        ]
    )
    return Sizing(verdict_of(findings), findings, parts, bands(site, seed))


def verdict_of(findings: list[Finding]) -> str:
    """Return the verdict that follows from the worst finding."""
    levels = {finding.level for finding in findings}
    if "blocks" in levels:
        return NO
    return CONDITIONS if "amend" in levels else YES
