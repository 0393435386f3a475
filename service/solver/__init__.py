"""Linear problems and their solver, apart from every clinical meaning."""
