//! Fits by iteratively reweighted least squares on a QR decomposition.

use nalgebra::{DMatrix, DVector};

use crate::error::{StatsError, finite, positive};
use crate::value::Proportion;

/// Iterations after which a fit still moving is not going to settle: Newton settles in under 15.
const MOST_STEPS: usize = 60;

/// What a period's figure is, with the link and variance that go with it.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Outcome<'a> {
    Proportions(&'a [Proportion]),
    Counts { counts: &'a [u64], exposure: &'a [f64] },
    Measurements(&'a [f64]),
}

impl Outcome<'_> {
    pub(crate) fn len(&self) -> usize {
        match self {
            Self::Proportions(periods) => periods.len(),
            Self::Counts { counts, .. } => counts.len(),
            Self::Measurements(values) => values.len(),
        }
    }

    /// Refuses what no model can be fitted to.
    pub(crate) fn check(&self) -> Result<(), StatsError> {
        match self {
            Self::Proportions(periods) => {
                let events: u128 = periods.iter().map(|p| u128::from(p.events())).sum();
                let non_events: u128 = periods.iter().map(|p| u128::from(p.non_events())).sum();
                if !periods.is_empty() && (events == 0 || non_events == 0) {
                    return Err(StatsError::NoSpread {
                        what: "period's proportion",
                        value: if events == 0 { 0.0 } else { 1.0 },
                    });
                }
            }
            Self::Counts { counts, exposure } => {
                if counts.len() != exposure.len() {
                    return Err(StatsError::LengthsDiffer {
                        left_name: "counts",
                        left: counts.len(),
                        right_name: "exposures",
                        right: exposure.len(),
                    });
                }
                for &value in *exposure {
                    positive("exposure", value)?;
                }
                if !counts.is_empty() && counts.iter().all(|&count| count == 0) {
                    return Err(StatsError::NoSpread { what: "period's count", value: 0.0 });
                }
            }
            Self::Measurements(values) => {
                for &value in *values {
                    finite("measurement", value)?;
                }
            }
        }
        Ok(())
    }

    /// The figure that is modelled: events, count, measurement.
    pub(crate) fn seen(&self, period: usize) -> f64 {
        match self {
            Self::Proportions(periods) => periods[period].events() as f64,
            Self::Counts { counts, .. } => counts[period] as f64,
            Self::Measurements(values) => values[period],
        }
    }

    /// Trials, exposure, or 1: what the mean of one unit is multiplied by.
    pub(crate) fn size(&self, period: usize) -> f64 {
        match self {
            Self::Proportions(periods) => periods[period].trials() as f64,
            Self::Counts { exposure, .. } => exposure[period],
            Self::Measurements(_) => 1.0,
        }
    }

    /// Mean of one unit from the linear predictor, and its slope there.
    pub(crate) fn unit_mean(&self, predictor: f64) -> (f64, f64) {
        match self {
            Self::Proportions(_) => {
                // The smaller of p and 1 − p keeps its digits.
                let odds = libm::exp(-predictor.abs());
                let (small, large) = (odds / (1.0 + odds), 1.0 / (1.0 + odds));
                (if predictor < 0.0 { small } else { large }, small * large)
            }
            Self::Counts { .. } => {
                let mean = libm::exp(predictor);
                (mean, mean)
            }
            Self::Measurements(_) => (predictor, 1.0),
        }
    }

    /// A linear predictor to start from, close to the figure seen.
    fn first_predictor(&self, period: usize) -> f64 {
        let (seen, size) = (self.seen(period), self.size(period));
        match self {
            Self::Proportions(_) => libm::log((seen + 0.5) / (size - seen + 0.5)),
            Self::Counts { .. } => libm::log((seen + 0.5) / size),
            Self::Measurements(_) => seen,
        }
    }

    /// One period's part of the deviance, from the mean of one unit.
    fn deviance(&self, period: usize, predictor: f64) -> f64 {
        let (seen, size) = (self.seen(period), self.size(period));
        let (unit_mean, _) = self.unit_mean(predictor);
        let part = |seen: f64, mean: f64| if seen > 0.0 { seen * libm::log(seen / mean) } else { 0.0 };
        match self {
            Self::Proportions(_) => {
                let (unit_other, _) = self.unit_mean(-predictor);
                2.0 * (part(seen, size * unit_mean) + part(size - seen, size * unit_other))
            }
            Self::Counts { .. } => {
                let mean = size * unit_mean;
                2.0 * (part(seen, mean) - (seen - mean))
            }
            Self::Measurements(_) => (seen - unit_mean) * (seen - unit_mean),
        }
    }

    /// One period's part of the negative log-likelihood, but for a constant: what a step must not make larger. Cheaper
    /// than the deviance, which takes two more logarithms.
    fn loss(&self, period: usize, predictor: f64) -> f64 {
        let (seen, size) = (self.seen(period), self.size(period));
        match self {
            Self::Proportions(_) => {
                size * (predictor.max(0.0) + libm::log1p(libm::exp(-predictor.abs()))) - seen * predictor
            }
            Self::Counts { .. } => size * libm::exp(predictor) - seen * predictor,
            Self::Measurements(_) => (seen - predictor) * (seen - predictor),
        }
    }

    /// Whether the figure lies at an end of what is possible, where a fit can run away to infinity.
    fn at_an_end(&self, period: usize) -> bool {
        match self {
            Self::Proportions(periods) => periods[period].events() == 0 || periods[period].non_events() == 0,
            Self::Counts { counts, .. } => counts[period] == 0,
            Self::Measurements(_) => false,
        }
    }
}

/// A fit with what standard errors are made from.
pub(crate) struct Fit {
    pub coefficients: DVector<f64>,
    /// (X'WX)⁻¹, before any dispersion.
    pub inverse_information: DMatrix<f64>,
    /// Mean of each period: size times unit mean.
    pub means: Vec<f64>,
    /// (seen − mean)/√variance, variance without dispersion.
    pub pearson: Vec<f64>,
    /// Deviance; the residual sum of squares for measurements.
    pub deviance: f64,
}

/// Maximum likelihood (least squares for measurements) of the outcome on the columns.
pub(crate) fn fit(columns: &DMatrix<f64>, outcome: &Outcome) -> Result<Fit, StatsError> {
    let n_points = columns.nrows();
    if let Outcome::Measurements(values) = outcome {
        let mut working = DVector::from_column_slice(values);
        let (coefficients, r) = least_squares(columns.clone(), &mut working)
            .ok_or(StatsError::DidNotSettle { what: "the regression", steps: 0, last: f64::INFINITY })?;
        let predictors = columns * &coefficients;
        return finish(columns, outcome, coefficients, predictors, Some(r));
    }
    let loss_at = |predictors: &DVector<f64>| -> f64 {
        predictors.iter().enumerate().map(|(period, &eta)| outcome.loss(period, eta)).sum()
    };
    let mut predictors = DVector::from_fn(n_points, |period, _| outcome.first_predictor(period));
    let mut found: Option<DVector<f64>> = None;
    let mut loss = f64::INFINITY;
    let (mut roots, mut working) = (DVector::zeros(n_points), DVector::zeros(n_points));
    let mut settled = false;
    for step in 0..MOST_STEPS {
        for period in 0..n_points {
            let (unit_mean, slope) = outcome.unit_mean(predictors[period]);
            let size = outcome.size(period);
            let root = (size * slope).sqrt();
            let residual = outcome.seen(period) - size * unit_mean;
            working[period] = root * predictors[period] + residual / root;
            roots[period] = root;
        }
        if working.iter().any(|value| !value.is_finite()) {
            return Err(separated_or_unsettled(outcome, &predictors, step, loss));
        }
        let (mut next, _) = least_squares(weigh(columns, &roots), &mut working)
            .ok_or_else(|| separated_or_unsettled(outcome, &predictors, step, loss))?;
        let mut moved_to = columns * &next;
        let mut new_loss = loss_at(&moved_to);
        // A step too far is halved; the first step has no earlier coefficients to go back towards.
        if let Some(before) = &found {
            let mut n_halvings = 0;
            let worse = |new: f64| new.is_nan() || new > loss + 1e-10 * loss.abs() + 1e-12;
            while worse(new_loss) && n_halvings < 30 {
                next = (&next + before) * 0.5;
                moved_to = columns * &next;
                new_loss = loss_at(&moved_to);
                n_halvings += 1;
            }
        }
        let largest_move =
            moved_to.iter().zip(predictors.iter()).map(|(new, old)| (new - old).abs()).fold(0.0, f64::max);
        predictors = moved_to;
        loss = new_loss;
        found = Some(next);
        // Newton doubles its digits each step: a move of 1e-9 leaves an error of 1e-18.
        settled = step > 0 && largest_move <= 1e-9 * (1.0 + predictors.amax());
        if settled {
            break;
        }
    }
    match found {
        Some(coefficients) if settled => finish(columns, outcome, coefficients, predictors, None),
        _ => Err(separated_or_unsettled(outcome, &predictors, MOST_STEPS, loss)),
    }
}

/// What standard errors are made from; `r` is the R of the weighted columns where it is known.
fn finish(
    columns: &DMatrix<f64>,
    outcome: &Outcome,
    coefficients: DVector<f64>,
    predictors: DVector<f64>,
    r: Option<DMatrix<f64>>,
) -> Result<Fit, StatsError> {
    let (n_points, n_terms) = columns.shape();
    let mut roots = DVector::zeros(n_points);
    let mut deviance = 0.0;
    let (mut means, mut pearson) = (Vec::with_capacity(n_points), Vec::with_capacity(n_points));
    for (period, &predictor) in predictors.iter().enumerate() {
        let (unit_mean, slope) = outcome.unit_mean(predictor);
        let size = outcome.size(period);
        let root = (size * slope).sqrt();
        roots[period] = root;
        deviance += outcome.deviance(period, predictor);
        means.push(size * unit_mean);
        pearson.push((outcome.seen(period) - size * unit_mean) / root);
    }
    let unsettled = StatsError::DidNotSettle { what: "the regression", steps: MOST_STEPS, last: deviance };
    let r = r.unwrap_or_else(|| weigh(columns, &roots).qr().unpack_r());
    let inverse_root =
        r.solve_upper_triangular(&DMatrix::identity(n_terms, n_terms)).ok_or(unsettled.clone())?;
    let inverse_information = &inverse_root * inverse_root.transpose();
    if inverse_information.iter().any(|value| !value.is_finite()) {
        return Err(unsettled);
    }
    Ok(Fit { coefficients, inverse_information, means, pearson, deviance })
}

/// The columns with each period multiplied by the root of its weight.
fn weigh(columns: &DMatrix<f64>, roots: &DVector<f64>) -> DMatrix<f64> {
    let mut weighted = columns.clone();
    for mut column in weighted.column_iter_mut() {
        column.component_mul_assign(roots);
    }
    weighted
}

/// Solves min |Ax − b| through A = QR and gives R too; `right` is overwritten.
fn least_squares(columns: DMatrix<f64>, right: &mut DVector<f64>) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let n_terms = columns.ncols();
    let qr = columns.qr();
    qr.q_tr_mul(right);
    let r = qr.unpack_r();
    let solved = r.solve_upper_triangular(&right.rows(0, n_terms))?;
    solved.iter().all(|value| value.is_finite()).then_some((solved, r))
}

/// A fit that runs away does so in periods whose figure is at an end: name the one that has run furthest.
fn separated_or_unsettled(
    outcome: &Outcome,
    predictors: &DVector<f64>,
    steps: usize,
    last: f64,
) -> StatsError {
    let furthest = (0..predictors.len())
        .filter(|&period| outcome.at_an_end(period))
        .max_by(|&a, &b| predictors[a].abs().total_cmp(&predictors[b].abs()));
    match furthest {
        Some(period) if predictors[period].abs() > 12.0 => StatsError::Separated { point: period + 1 },
        _ => StatsError::DidNotSettle { what: "the regression", steps, last },
    }
}
