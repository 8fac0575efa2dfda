"""The closed forms of the handbooks: what the simulated reorder point and the joint basket have to agree with."""
