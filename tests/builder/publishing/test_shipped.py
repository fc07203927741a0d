"""Templates and demo are found beside a checkout and inside an installation."""

import pytest

from builder import shipped
from catalog.errors import BuildRefused


def test_checkout_has_both():
    assert (shipped.templates_folder() / "base.html").is_file()
    assert (shipped.demo_folder() / "demo.toml").is_file()


def test_installed_copy_wins(tmp_path, monkeypatch):
    for name in ("site_templates", "demo"):
        (tmp_path / name).mkdir()
    monkeypatch.setattr(shipped, "_INSTALLED", tmp_path)
    assert shipped.templates_folder() == tmp_path / "site_templates"
    assert shipped.demo_folder() == tmp_path / "demo"


def test_incomplete_installation_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(shipped, "_INSTALLED", tmp_path / "none")
    monkeypatch.setattr(shipped, "_PACKAGE", tmp_path / "builder")
    with pytest.raises(BuildRefused, match="The page templates are missing from this installation"):
        shipped.templates_folder()
    with pytest.raises(BuildRefused, match="The demo batches are missing from this installation"):
        shipped.demo_folder()
