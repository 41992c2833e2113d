// The parts of a certificate, each from one file; certificate_report.cpp puts them in order.
#pragma once

#include "calibration/calibration.hpp"
#include "calibration/performance/budget.hpp"
#include "fitting/report/section.hpp"

namespace fitting {

// certificate_results.cpp: by load, with the figures of residuals and of hysteresis.
Section certificate_results(const calibration::Calibration& calibration);

// certificate_performance.cpp: what the instrument does beside its curve, and which limits of
// standards that meets.
Section certificate_performance(const calibration::Calibration& calibration);
// One sentence of it for the top of the page.
std::string performance_finding(const calibration::Calibration& calibration);

// certificate_doubt.cpp: the budget of one reading.
Section certificate_doubt(const calibration::Calibration& calibration);
// The reading that the budget is of: at the reference nearest to half of the range.
calibration::Budget stated_budget(const calibration::Calibration& calibration);

}  // namespace fitting
