"""Run lengths: how long a chart goes on before it signals, with the process as it is or changed.

Each chart is written as a chain that is left at the signal: Shewhart charts with rules and counts
exactly, EWMA and CUSUM by the integral equation. One room turns chains into averages, spreads and
percentiles.
"""
