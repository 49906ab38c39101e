"""Pictures as SVG text: the spindle, the chart, the row of spindles."""
