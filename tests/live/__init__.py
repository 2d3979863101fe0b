"""roomcue live, with real brokers and foreign clients that the tests start themselves."""
