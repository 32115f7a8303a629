"""The campaign: moments, merging, determinism, proof tests, and that it can come out broken."""

from functools import lru_cache

import pytest

from leafwinch_sim.aftermath import AftermathBench, broken_since
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect, all_defects, find_defect
from leafwinch_sim.branch import Brancher
from leafwinch_sim.campaign import prove
from leafwinch_sim.campaign_work import SCRIPT
from leafwinch_sim.moments import MOMENTS
from leafwinch_sim.nominal import MOMENTS_LEAST, Nominal, run_nominal
from leafwinch_sim.outcomes import BROKEN, DORMANT, FOUND, SILENT
from leafwinch_sim.proof_readings import first_difference, take_readings
from leafwinch_sim.proof_tests import PROOF_TESTS, ProofBench
from leafwinch_sim.requirements import Broken, Monitors
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import Site, load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist


@lru_cache(maxsize=4)
def pit(wiring: str = "reference") -> tuple[Site, Netlist, Nominal]:
    site = load_site("workshop-pit")
    net = load_netlist(wiring)
    return site, net, run_nominal(site, net, load_script(SCRIPT), 1)


@lru_cache(maxsize=1)
def brancher() -> Brancher:
    site, net, nominal = pit()
    return Brancher(site, net, load_script(SCRIPT), nominal, 1)


def defect(name: str) -> Defect:
    site, net, _ = pit()
    return find_defect(site, net, name)


def test_the_script_passes_through_every_moment_in_order() -> None:
    for site_name in ("workshop-pit", "boat-slip"):
        site = load_site(site_name)
        nominal = run_nominal(site, load_netlist(site.wiring), load_script(SCRIPT), 1)
        assert [name for name, _ in nominal.moments] == [moment.name for moment in MOMENTS]
        assert len(nominal.moments) >= MOMENTS_LEAST
        times = [t_ms for _, t_ms in nominal.moments]
        assert times == sorted(times)
        assert set(times) <= set(nominal.grid)
        assert not nominal.broken


def brute_force(name: str, t_ms: int) -> tuple[str, str]:
    """Run one defect from the very start of the script, with no snapshot and no merging."""
    site, net, _ = pit()
    bench = Bench(site, net, load_script(SCRIPT), 1)
    monitors = Monitors(site, net)
    while not bench.operator.done():
        if bench.t_ms == t_ms:
            bench.add_defect(defect(name))
        monitors.step(bench.step())
        if monitors.broken:
            return (BROKEN, min(monitors.broken, key=lambda key: monitors.broken[key].t_ms))
    return ("whole", "")


@pytest.mark.parametrize(
    ("name", "moments"),
    [
        ("BG1.second:welded", ("before power-up", "top end operating")),
        ("SF1.raise_no:welded", ("ready at the bottom", "raising off the bottom")),
        ("KF1.drive_line:on", ("ready at the bottom", "pause")),
        ("bridge:W2.2-W2.4", ("inrush", "bottom final pushed")),
        ("rope_off_hook", ("raising off the bottom", "power back, control on")),
        ("QA0.pole1:welded", ("inrush", "reset pressed")),
    ],
)
def test_neither_snapshots_nor_merging_nor_early_ending_change_a_verdict(
    name: str, moments: tuple[str, ...]
) -> None:
    _, _, nominal = pit()
    outcomes = dict(zip(nominal.moments, brancher().outcomes(defect(name)), strict=True))
    for moment in nominal.moments:
        if moment[0] not in moments:
            continue
        verdict, requirement = brute_force(name, moment[1])
        outcome = outcomes[moment]
        if verdict == BROKEN and outcome.verdict == FOUND:
            # The branch ended when the defect was found; gravity broke R11 only later.
            assert requirement == "R11"
        else:
            assert (outcome.verdict == BROKEN) == (verdict == BROKEN)
            assert outcome.requirement == requirement


def test_a_defect_that_no_step_uses_stays_dormant_and_a_live_one_is_found() -> None:
    outcomes = brancher().outcomes(defect("QA1.interlock:stuck-closed"))
    assert {outcome.verdict for outcome in outcomes} == {DORMANT}
    outcomes = brancher().outcomes(defect("SF1.raise_no:welded"))
    assert outcomes[0].verdict == FOUND
    assert outcomes[0].fault == 12  # raise contact stuck
    outcomes = brancher().outcomes(defect("slack_rope_cam_lost"))
    assert {outcome.verdict for outcome in outcomes} == {SILENT}


def test_a_defect_unnoticed_from_the_first_moment_is_followed_to_the_end_of_the_script() -> None:
    _, _, nominal = pit()
    outcomes = brancher().outcomes(defect("slack_rope_cam_lost"))
    assert outcomes[0].verdict == SILENT
    assert outcomes[0].run_ms >= nominal.grid[-1]
    assert all(outcome.run_ms < nominal.grid[-1] for outcome in outcomes[1:])


def test_what_breaks_only_after_mending_is_told() -> None:
    site, net, _ = pit()
    bench = Bench(site, net, load_script(SCRIPT), 1)
    after = AftermathBench(bench)
    state, watched = bench.snapshot(), Monitors(site, net).snapshot()
    mended = defect("capacitor_halved")
    assert after.play(state, watched, bench.operator, mended, cycle=False).healed
    bench.restore(state)
    monitors = Monitors(site, net)
    monitors.broken["R3"] = Broken(5, "reversed too soon")
    monitors.broken["R1"] = Broken(4, "ran on")
    watched = monitors.snapshot()
    told = after.play(state, watched, bench.operator, mended, cycle=False)
    assert told.broken is not None
    assert told.broken[0] == "R1"
    # What had broken while insisting is told there, and not once more after mending.
    assert told.healed
    monitors = Monitors(site, net)
    monitors.broken["R3"] = Broken(5, "reversed too soon")
    assert broken_since((), monitors) == "after mending R3 broke: reversed too soon"
    monitors.broken = {"R2": Broken(5, "rope"), "R11": Broken(6, "drop")}
    assert broken_since((), monitors) == ""


SAMPLE = ("SF1.raise_no:welded", "BG3:bracket", "rope_parted", "QA0.mirror:2k", "QA2:coil-open")


def test_one_seed_gives_one_result_whatever_the_number_of_processes() -> None:
    site, net, _ = pit()
    alone = prove(site, net, seed=3, workers=1, only=SAMPLE)
    assert alone == prove(site, net, seed=3, workers=2, only=SAMPLE)
    assert alone["verdict"] == "holds"
    assert alone["faults"] == len(SAMPLE)
    assert alone["runs"] == len(SAMPLE) * len(MOMENTS)
    assert [row["fault"] for row in alone["unpreventable"]] == ["rope_parted"]
    latent = {row["fault"]: row["proof_test"] for row in alone["latent"]}
    assert latent == {"QA0.mirror:2k": "measurement with the supply off"}
    other = prove(site, net, seed=4, workers=1, only=SAMPLE[:1])
    same_defect = [cell for cell in alone["cells"] if cell["defect"] == SAMPLE[0]]
    assert len(other["cells"]) == len(same_defect)
    assert other["cells"] != same_defect, "bounce and skew are those of the seed"


def test_what_was_done_is_kept_when_it_is_stopped_from_the_keyboard() -> None:
    site, net, _ = pit()

    def stop(what: str, done: int, total: int) -> None:
        if done:
            raise KeyboardInterrupt

    result = prove(site, net, only=SAMPLE, progress=stop)
    assert (result["complete"], result["verdict"]) == (False, "unfinished")
    assert 0 < result["faults"] < result["faults_wanted"] == len(SAMPLE)
    with pytest.raises(KeyboardInterrupt):
        prove(site, net, only=SAMPLE, progress=lambda what, done, total: stop(what, 1, total))


def test_the_bare_wiring_starts_by_itself_and_drives_past_an_end() -> None:
    site, net, _ = pit("bare")
    result = prove(site, net, only=("SF1.raise_1:welded", "BG1.path:welded"))
    broken = {(row["fault"], row["requirement"]) for row in result["broken"]}
    assert result["verdict"] == "broken"
    assert any(requirement == "R2" for _, requirement in broken)
    for row in result["broken"]:
        assert f"--defect {row['fault']}" in row["replay"]


def test_an_unknown_defect_is_refused_with_one_sentence() -> None:
    site, net, _ = pit()
    with pytest.raises(BadInput, match="no defect 'nonsense'"):
        prove(site, net, only=("nonsense",))


def test_every_proof_test_finds_its_defect_and_is_silent_on_a_sound_machine() -> None:
    site, net, _ = pit()
    proof = ProofBench(site, net, 1)
    finds = {
        "operating points": "bottom_final_cam_shifted",
        "measured cycle": "capacitor_halved",
        "function walk": "record_lost",
        "measurement with the supply off": "QA1.interlock:stuck-closed",
        "insulation test": "leak10k:W9.1-W9.2",
        "interlock by hand": "QA1-QA2:interlock-lost",
        "hold on the gear": "gear_not_holding",
    }
    by_name = {test.name: test for test in PROOF_TESTS}
    assert set(finds) == set(by_name)
    for name, id_ in finds.items():
        assert by_name[name].find(proof, defect(id_)), name
        # A lost buzzer wire is no business of the mechanical tests.
        if name in ("operating points", "insulation test", "interlock by hand", "hold on the gear"):
            assert not by_name[name].find(proof, defect("W3.10:open")), name
    for script_name in ("proof-cycle", "proof-walk"):
        script = load_script(script_name)
        again = take_readings(Bench(site, net, script, 1))
        assert first_difference(proof.played(script, None), again) == ""


def test_the_catalogue_has_unique_ids_and_a_cause_for_each() -> None:
    for site_name in ("workshop-pit", "boat-slip"):
        site = load_site(site_name)
        found = all_defects(site, load_netlist(site.wiring))
        assert len({item.id for item in found}) == len(found) > 350
        assert all(item.cause for item in found)
