"""Battery and energy: from a voltage to a decision, from a ride to a balance."""
