"""The wear: what pictures of marks show, how plastic ages, how edges are rounded."""
