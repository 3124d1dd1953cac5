"""What recurs across installs: rates over system-years, ages at leak, costs, changes over time."""
