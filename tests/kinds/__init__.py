"""Tests of what a keeper can write down."""
