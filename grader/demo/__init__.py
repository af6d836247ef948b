"""An invented school from roster to results, simulated scripts, and the worked solutions."""
