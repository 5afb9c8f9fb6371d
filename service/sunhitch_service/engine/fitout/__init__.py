"""The whole job: carries panel, roof, controller, battery and site through every calculation."""
