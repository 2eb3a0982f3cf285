"""Pictures of an assessment: one preparation of the data, drawn as static SVG for paper and as Plotly for pages."""
