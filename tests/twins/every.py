"""All twins by name."""

from twins import of_gas, of_rules, of_work

TWINS = {twin.name: twin for twin in (*of_gas.TWINS, *of_work.TWINS, *of_rules.TWINS)}
