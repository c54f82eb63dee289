"""Networks against EPANET and closed forms."""

import math

import pytest
import wntr

from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.network import Edge, Network, solve_network
from layouts.hydraulics.pump import head_pressure_pa
from layouts.hydraulics.segments import Bore, PartResistance, PumpCurve, reynolds

L_MIN = 1e-3 / 60
WATER = Coolant("water", 0.0, 20.0, 998.2, 1.0046e-3, 4184.0, None, None)
PIPES = [
    ("a", "out", "n1"),
    ("b", "out", "n2"),
    ("c", "n1", "n2"),
    ("d", "n1", "n3"),
    ("e", "n2", "n4"),
    ("f", "n3", "n4"),
    ("g", "n4", "tank"),
]
SHUT_OFF, FACTOR = 4.0, 0.03


def make_pump() -> PumpCurve:
    """Return H = 4 - 0.03 Q2 (m, L/min)."""
    return PumpCurve(tuple((q * L_MIN, SHUT_OFF - FACTOR * q * q) for q in (0.25 * i for i in range(45))))


def solve_with_epanet(
    folder, lengths: dict[str, float], diameter: float, minor: dict[str, float]
) -> dict[str, float]:
    model = wntr.network.WaterNetworkModel()
    options = model.options.hydraulic
    options.headloss, options.accuracy, options.trials = "D-W", 1e-7, 500
    options.viscosity = WATER.viscosity_pa_s / WATER.density_kg_m3 / (1.1e-5 * 0.3048**2)
    model.add_reservoir("tank", base_head=10.0)
    for node in ("out", "n1", "n2", "n3", "n4"):
        model.add_junction(node, base_demand=0.0, elevation=0.0)
    points = [(q * L_MIN, SHUT_OFF - FACTOR * q * q) for q in (0.0, 5.0, 10.0)]
    model.add_curve("curve", "HEAD", points)
    model.add_pump("pump", "tank", "out", pump_type="HEAD", pump_parameter="curve")
    for name, start, end in PIPES:
        model.add_pipe(
            name, start, end, length=lengths[name], diameter=diameter, roughness=1e-6, minor_loss=minor[name]
        )
    results = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(folder / "run"))
    return {name: float(results.link["flowrate"].loc[0, name]) for name, _, _ in PIPES}


@pytest.mark.published(
    source="EPANET 2.2 (US EPA, by the library wntr): looped network of loss coefficients; 0.5 %"
)
def test_looped_network_of_square_laws(tmp_path):
    coefficients = {"a": 20.0, "b": 60.0, "c": 15.0, "d": 80.0, "e": 25.0, "f": 10.0, "g": 12.0}
    diameter = 0.02
    theirs = solve_with_epanet(tmp_path, dict.fromkeys(coefficients, 1e-4), diameter, coefficients)
    head = 0.5 * WATER.density_kg_m3 * (1.0 / (math.pi / 4 * diameter**2)) ** 2
    edges = [
        Edge(name, start, end, (PartResistance(((L_MIN, coefficients[name] * head * L_MIN**2),)),))
        for name, start, end in PIPES
    ]
    ours = solve_network(Network((Edge("pump", "tank", "out", (make_pump(),)), *edges)), WATER).flow_m3_s
    for name, flow in theirs.items():
        assert abs(flow) > 0.05 * L_MIN
        assert ours[name] == pytest.approx(flow, rel=0.005)


@pytest.mark.published(
    source="EPANET 2.2 (US EPA, by the library wntr): looped network in laminar pipes; 0.5 %"
)
def test_looped_network_of_laminar_pipes(tmp_path):
    lengths = {"a": 6.0, "b": 16.0, "c": 4.0, "d": 12.0, "e": 10.0, "f": 8.0, "g": 6.0}
    diameter = 0.0028
    theirs = solve_with_epanet(tmp_path, lengths, diameter, dict.fromkeys(lengths, 0.0))
    edges = [Edge(name, start, end, (Bore(lengths[name], diameter),)) for name, start, end in PIPES]
    ours = solve_network(Network((Edge("pump", "tank", "out", (make_pump(),)), *edges)), WATER).flow_m3_s
    for name, flow in theirs.items():
        assert reynolds(Bore(1.0, diameter), flow, WATER) < 1950
        assert ours[name] == pytest.approx(flow, rel=0.005)


@pytest.mark.published(source="Series and parallel square laws: k adds in series, 1/sqrt(k) adds in parallel")
def test_series_and_parallel_in_closed_form():
    series, left, right = 0.02, 0.09, 0.25
    together = (left**-0.5 + right**-0.5) ** -2
    whole = math.sqrt(SHUT_OFF / (FACTOR + series + together))

    def part(factor: float) -> tuple[PartResistance]:
        return (PartResistance(((L_MIN, head_pressure_pa(factor, WATER)),)),)

    network = Network(
        (
            Edge("pump", "tank", "out", (make_pump(),)),
            Edge("series", "out", "split", part(series)),
            Edge("left", "split", "tank", part(left)),
            Edge("right", "split", "tank", part(right)),
        )
    )
    flows = solve_network(network, WATER).flow_m3_s
    assert flows["series"] / L_MIN == pytest.approx(whole, rel=1e-4)
    assert flows["left"] / flows["right"] == pytest.approx(math.sqrt(right / left), rel=1e-9)


@pytest.mark.published(source="Wheatstone's bridge: no flow crosses where the arms' ratios are equal")
def test_balanced_bridge_stands_still():
    def part(factor: float) -> tuple[PartResistance]:
        return (PartResistance(((L_MIN, head_pressure_pa(factor, WATER)),)),)

    network = Network(
        (
            Edge("pump", "tank", "out", (make_pump(),)),
            Edge("a", "out", "left", part(0.1)),
            Edge("b", "out", "right", part(0.2)),
            Edge("bridge", "left", "right", (Bore(0.1, 0.006),)),
            Edge("c", "left", "tank", part(0.3)),
            Edge("d", "right", "tank", part(0.6)),
        )
    )
    flows = solve_network(network, WATER).flow_m3_s
    assert abs(flows["bridge"]) < 1e-6 * flows["a"]
