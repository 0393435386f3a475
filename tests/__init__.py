"""Tests by purpose; a package, so that no other package of this name is found first."""
