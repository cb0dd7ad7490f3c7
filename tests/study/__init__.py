"""Tests of studies; a package, for some of its modules have namesakes in other folders."""
