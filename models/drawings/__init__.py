"""Drawings in and out: DXF and STL read in a limited child process, plan views written.

Contents: `reading` (what the server calls), `child` (what it starts), `dxf`, `blocks`, `chaining`
and `stl` (what runs there), `outlines` (shared geometry), `records` (what comes back), `placing`
(from outlines to sections of a study), `writing` (plan views as DXF and SVG).
"""
