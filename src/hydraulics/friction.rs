//! Darcy friction factors.

/// Which rule gives the friction factor of a pipe in turbulent flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Law {
    /// Colebrook–White; what the chart shows.
    Colebrook,
    /// Haaland (1983).
    Haaland,
    /// Swamee and Jain (1976).
    SwameeJain,
    /// Churchill (1977).
    Churchill,
    /// Serghides (1984).
    Serghides,
    /// The fully rough limit, whatever the Reynolds number.
    FullyRough,
    /// 64/Re, also where flow is turbulent (a slip).
    LaminarEverywhere,
    /// One value, as read.
    Fixed(f64),
}

/// How the friction factor of one pipe is had: a law, and how far off it is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The law in turbulent flow; laminar flow takes 64/Re unless the law is [`Law::Fixed`].
    pub law: Law,
    /// What the turbulent factor is multiplied with: 1.05 reads it five per cent too high.
    pub factor: f64,
}

impl Reading {
    /// Colebrook–White, read exactly.
    pub const EXACT: Self = Self {
        law: Law::Colebrook,
        factor: 1.0,
    };
}
