"""Curves of a coupler's model: they pass through what the card states."""

import numpy as np
import pytest

from engine.coupler import TransistorCard, card_names, curves_of, load_card

TRANSISTORS = [name for name in card_names() if isinstance(load_card(name), TransistorCard)]


def graph_of(name, title):
    return next(graph for graph in curves_of(load_card(name)) if graph.title.startswith(title))


def trace_of(graph, name):
    return next(trace.y for trace in graph.traces if trace.name == name)


@pytest.mark.parametrize("name", card_names())
def test_every_curve_is_finite_and_over_rising_values(name):
    for graph in curves_of(load_card(name)):
        assert np.all(np.diff(graph.x) > 0)
        assert len(graph.rows) >= 3
        for trace in graph.traces:
            assert len(trace.y) == len(graph.x)
            assert np.isfinite(trace.y).all()


@pytest.mark.parametrize("name", card_names())
def test_forward_voltage_passes_through_the_points_and_falls_with_temperature(name):
    graph = graph_of(name, "Forward voltage")
    cold, usual, hot = (np.array(trace.y) for trace in graph.traces)
    assert np.all(cold > usual)
    assert np.all(usual > hot)
    for IF, VF in graph.points:
        assert np.interp(np.log(IF), np.log(graph.x), usual) == pytest.approx(VF, abs=20e-3)


@pytest.mark.parametrize("name", TRANSISTORS)
def test_transfer_ratio_passes_through_the_points(name):
    graph = graph_of(name, "Transfer ratio over LED")
    for IF, CTR in graph.points:
        assert np.interp(np.log(IF), np.log(graph.x), trace_of(graph, "typ")) == pytest.approx(CTR, rel=0.06)
    assert np.all(np.array(trace_of(graph, "max")) > trace_of(graph, "min"))


@pytest.mark.parametrize("name", TRANSISTORS)
def test_transfer_ratio_over_temperature_is_whole_at_25_degrees(name):
    graph = graph_of(name, "Transfer ratio over temperature")
    assert len(graph.traces) == len(load_card(name).CTR_temperature)
    for trace in graph.traces:
        assert np.interp(25.0, graph.x, trace.y) == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize("name", TRANSISTORS)
def test_collector_currents_rise_with_voltage_and_light_and_meet_the_tests(name):
    graph, card = graph_of(name, "Collector current"), load_card(name)
    family = np.array([trace.y for trace in graph.traces])
    assert np.all(np.diff(family, axis=1) >= -1e-15)
    assert np.all(np.diff(family[:, -1]) > 0)
    named = {trace.name: trace.y for trace in graph.traces}
    VCE, IC = graph.points[0]
    at_test = next(y for text, y in named.items() if text == f"{card.CTR_IF * 1e3:g} mA")
    assert np.interp(VCE, graph.x, at_test) == pytest.approx(IC, rel=0.05)


def test_threshold_follows_the_card_over_temperature():
    graph = graph_of("push-pull", "Threshold")
    for TA, IF in graph.points:
        assert np.interp(TA, graph.x, trace_of(graph, "typ")) == pytest.approx(IF, rel=0.01)
