"""`python -m chassis_gen`: the same as the command `chassis-gen`."""

from chassis_gen.cli.main import main

main()
