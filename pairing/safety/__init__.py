"""What a drink can do to who drinks it: limits, allergens, people, and the cautions that come of them."""
