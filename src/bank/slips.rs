//! The names of the library of slips, so that a template that misspells one is told where. What the slips do
//! is in `band`, below; a test there holds the two together.

/// Every slip, with the systems that it can be made in.
pub const SLIPS: &[(&str, &str)] = &[
    ("exit loss left out", "a loss whose name holds `exit`"),
    ("exit loss counted twice", "a loss whose name holds `exit`"),
    ("entrance loss left out", "a loss whose name holds `entrance`"),
    ("minor losses left out", "a loss"),
    ("loss on another pipe's velocity", "a loss and two pipes or more"),
    (
        "loss on the wider pipe's velocity",
        "an expansion or a contraction",
    ),
    (
        "one velocity for all pipes",
        "two pipes or more of different bores",
    ),
    (
        "point at the height of the outlet",
        "a point at another height than the end",
    ),
    ("velocity head left out at a point", "a point"),
    ("narrower size taken", "an unknown diameter with `sizes`"),
    ("velocity head left out", "a station where the fluid moves"),
    (
        "half of the velocity head left out",
        "any whose unknown is no length and no K",
    ),
    (
        "alpha of one in laminar flow",
        "laminar flow in the pipe at a station where the fluid moves",
    ),
    ("elevation left out", "stations at different heights, both known"),
    ("sign of elevation", "stations at different heights, both known"),
    ("Fanning factor for Darcy's", "a pipe"),
    ("friction left out", "a pipe of known length"),
    ("smooth wall for rough", "a rough pipe with turbulent flow"),
    (
        "roughness ten times too large",
        "a rough pipe with turbulent flow",
    ),
    ("laminar formula in turbulent flow", "a pipe with turbulent flow"),
    ("turbulent formula in laminar flow", "a pipe with laminar flow"),
    (
        "natural logarithm in the friction formula",
        "turbulent flow in every pipe, roughness known",
    ),
    (
        "stopped at the first guess",
        "a rough pipe whose turbulent flow is not fully rough",
    ),
    ("radius for diameter", "pipes of known diameter"),
    ("diameter for radius in the area", "pipes of known diameter"),
    (
        "hydraulic radius for hydraulic diameter",
        "a duct that is not round",
    ),
    ("area from the hydraulic diameter", "a duct that is not round"),
    (
        "round pipe's laminar constant in a duct",
        "a duct that is not round with laminar flow",
    ),
    ("kinematic viscosity for dynamic", "any"),
    ("dynamic viscosity for kinematic", "any"),
    ("gauge and absolute mixed", "any"),
    (
        "psi and kPa confused",
        "a pressure given in psi or kPa that is not 0",
    ),
    (
        "inch and millimetre confused",
        "a bore given in inches or millimetres",
    ),
    ("litres taken for cubic metres", "a flow given in litres"),
    (
        "minutes or hours taken for seconds",
        "a flow or a time given or asked in minutes or hours",
    ),
    (
        "efficiency inverted",
        "a pump or turbine with an efficiency below 1",
    ),
    (
        "efficiency left out",
        "a pump or turbine with an efficiency below 1",
    ),
    (
        "gravity left out of the power",
        "a pump or turbine whose power is asked, not given",
    ),
    (
        "gravity left out of the pressure head",
        "a pressure that is not 0",
    ),
    ("sign of the pump's head", "a pump or turbine of known head"),
    (
        "roughness of the new pipe left out",
        "a pipe that ages, its roughness when new given",
    ),
    (
        "pumps in parallel treated as in series",
        "a pump with `parallel` above 1",
    ),
    (
        "pumps in series treated as in parallel",
        "a pump with `series` above 1",
    ),
    (
        "number of pumps left out",
        "a pump with `parallel` or `series` above 1",
    ),
    (
        "head in proportion to the speed",
        "a pump with a curve whose speed or impeller is not that of the curve",
    ),
    (
        "flow not moved with the speed",
        "a pump with a curve whose speed or impeller is not that of the curve",
    ),
    (
        "vapour pressure left out of NPSH",
        "a pump with an `elevation` whose NPSH is asked",
    ),
    (
        "air's pressure left out of NPSH",
        "a pump with an `elevation` whose NPSH is asked",
    ),
    (
        "suction losses left out of NPSH",
        "a pump with an `elevation` and losses before it",
    ),
    (
        "motor efficiency left out",
        "a pump or turbine with a motor or generator efficiency",
    ),
    ("a thousand times too large", "any; parts whose answer has a unit"),
    ("a thousand times too small", "any; parts whose answer has a unit"),
    ("first flow all the way", "a tank whose time is asked"),
    ("two left out of the integral", "a tank whose time is asked"),
    (
        "centre-line velocity taken for the mean",
        "a profile whose centre-line velocity is given",
    ),
    (
        "corrections of the capillary left out",
        "a profile with an end correction or a kinetic correction",
    ),
    (
        "diameter for radius in the profile",
        "a profile that is asked at a radius",
    ),
    (
        "shear stress with the diameter for the radius",
        "a profile whose shear stress at the wall is not given",
    ),
    (
        "coefficient of the meter left out",
        "a flow meter whose coefficient is not 1",
    ),
    ("velocity of approach left out", "a plate, nozzle or Venturi"),
    ("area ratio not squared", "a plate, nozzle or Venturi"),
    (
        "fluid in the manometer left out",
        "a flow meter with a manometer whose liquid is heavier than the fluid",
    ),
    ("whole differential taken as lost", "a plate, nozzle or Venturi"),
    ("velocity at the tip taken for the mean", "a Pitot tube in a pipe"),
    (
        "flow shared by area",
        "a network of links that all join the same two nodes",
    ),
    (
        "flow shared evenly",
        "a network of links that all join the same two nodes",
    ),
    ("demand left out", "a network where something is taken out"),
];
