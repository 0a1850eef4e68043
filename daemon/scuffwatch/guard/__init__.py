"""The guard: findings and interlocks in, permit and alarms out, from tables and one pure step."""
