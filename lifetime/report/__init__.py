"""An assessment for people and programs: tables, and one JSON document."""
