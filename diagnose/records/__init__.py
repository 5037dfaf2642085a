"""Records: what a closed job tells and what many teach the rules; test reports of a year, the years of one assembly."""
