"""Every public formula says what it takes, in which unit, and where it comes from."""

import importlib
import inspect
import pkgutil
import re

import pytest

import estate.formulas

HELPERS = {"numbers"}
SUFFIXES = {
    "_mhz": "MHz", "_hz": "Hz", "_m": "m", "_mm": "mm", "_um": "µm", "_mm2": "mm²", "_ohm": "Ω", "_w": "W", "_a": "A",
    "_db": "dB", "_db_per_100m": "dB/100 m", "_db_per_km": "dB/km", "_ohm_per_km": "Ω/km", "_n": "N", "_n_per_m": "N/m",
    "_degc": "°C", "_deg": "°", "_percent": "%", "_volts": "V", "_mbps": "Mb/s", "_mhz_km": "MHz·km",
    "_h_per_m": "H/m", "_s_per_m": "S/m", "_ohm_per_m": "Ω/m", "_per_k": "1/K", "_ohm_m": "Ω·m",
    "_per_root_mhz": "dB/√MHz", "_per_mm": "1/mm", "_pf_per_m": "pF/m", "_np_per_m": "Np/m", "_volts_per_m": "V/m",
    "_wb_per_m": "Wb/m",
}  # fmt: skip


def public_formulas():
    for module in pkgutil.iter_modules(estate.formulas.__path__):
        if module.name not in HELPERS:
            loaded = importlib.import_module(f"estate.formulas.{module.name}")
            for name, function in inspect.getmembers(loaded, inspect.isfunction):
                if function.__module__ == loaded.__name__ and not name.startswith("_"):
                    yield pytest.param(function, id=f"{module.name}.{name}")


def section(doc, title):
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", doc, re.DOTALL | re.MULTILINE)
    return found.group(1) if found else ""


def unit_of(name):
    """The longest suffix that is a unit; a lone letter is a symbol."""
    fits = [s for s in SUFFIXES if len(name) > 1 and f"_{name}".endswith(s)]
    return SUFFIXES[max(fits, key=len)] if fits else None


@pytest.mark.parametrize("function", public_formulas())
def test_docstring(function):
    doc = inspect.getdoc(function)
    parameters = section(doc, "Parameters")
    documented = re.findall(r"^(\w+) : ", parameters, re.MULTILINE)
    assert documented == list(inspect.signature(function).parameters)
    units = re.findall(r"\[([^\]]+)\]$", parameters, re.MULTILINE)
    assert len(units) == len(documented)
    for name, unit in zip(documented, units, strict=True):
        assert unit_of(name) in (None, unit), name
    returned = re.findall(r"\[([^\]]+)\]$", section(doc, "Returns"), re.MULTILINE)
    assert len(returned) == 1
    assert unit_of(function.__name__) in (None, returned[0])
    assert section(doc, "References").strip()


def test_formulas_are_found():
    assert len(list(public_formulas())) > 50
