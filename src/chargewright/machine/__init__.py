"""What a vehicle is: its layout, its parts' true values, and the causes that change them."""
