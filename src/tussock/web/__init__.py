"""The workbench in the browser: pages over the studies. A page shows a Result and computes nothing."""
