"""The plan on paper and on the screen: pages, body map, charts. Draws what the core decided, decides nothing."""
