"""One node group a file: what each makes of a surface, in real units; 0 always means clean."""
