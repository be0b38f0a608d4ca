"""Finding what lies beside the spring: card, paper, coin, ruler."""
