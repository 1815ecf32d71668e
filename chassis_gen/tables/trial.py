"""What test fits and rework reckon with: reading errors, rates of printing, limits of filing and taping."""

from __future__ import annotations

from chassis_gen.tables.reading import Rule, lookup, read_rules


def trial_rule(name: str) -> Rule:
    """Return one figure with its provenance.

    Args:
        name: such as ``caliper_tolerance``.

    Raises:
        InputError: code ``unknown-rule``.
    """
    return lookup(name, read_rules("trial_rules.toml"), "unknown-rule", "trial rule")
