#include "tests/campaign/judge.hpp"

namespace tests::campaign {
namespace {

// One of the parts of a list, found by `found`.
template <class Found>
bool any_of_list(std::string_view list, char separator, Found found) {
  while (!list.empty()) {
    const size_t end = list.find(separator);
    if (found(list.substr(0, end))) return true;
    list = end == std::string_view::npos ? std::string_view() : list.substr(end + 1);
  }
  return false;
}

bool says_one_of(const std::string& text, std::string_view words) {
  return any_of_list(words, '|',
                     [&](std::string_view each) { return text.find(each) != std::string::npos; });
}

bool rows_exist(Phase phase) {
  return phase != Phase::hello && phase != Phase::homing && phase != Phase::calibration;
}

class Judgement {
 public:
  Judgement(const CellRequest& request, const CellResult& result)
      : request_(request), result_(result), problems_(result.wrong) {}

  std::vector<std::string> pass() {
    if (std::holds_alternative<HostFault>(request_.fault.strike) && result_.exit == -1) {
      judge_killed();
    } else if (result_.exit == 0) {
      judge_success();
    } else {
      judge_failure();
    }
    return problems_;
  }

 private:
  void problem(const std::string& what) { problems_.push_back(what); }

  void judge_killed() {
    constexpr double kLostMax_s = 1.0;  // what the record promises
    if (result_.lost_s > kLostMax_s) problem("more than a second of rows is lost");
    if (result_.record == "complete" || result_.record == "unusable") {
      problem("a record whose program was killed says " + result_.record);
    }
    if (rows_exist(request_.phase) && result_.record == "none") problem("no record is left");
  }

  void judge_success() {
    const FaultRow& fault = request_.fault;
    const bool harmless = (fault.harmless & in(request_.phase)) != 0;
    const bool told = says_one_of(result_.remarks, fault.words);
    if (result_.struck && fault.ending == Ending::stops && !harmless && !told) {
      problem("accepted without a word");
    }
    if (request_.phase != Phase::calibration && result_.record != "complete") {
      problem("all went well, and the record says " + result_.record);
    }
  }

  void judge_failure() {
    const FaultRow& fault = request_.fault;
    if (!result_.struck) return problem("failed by itself: " + result_.message);
    if (fault.ending == Ending::goes_on)
      return problem("it should have gone on: " + result_.message);
    const std::string exit = std::to_string(result_.exit);
    if (!any_of_list(fault.exits, ' ', [&](std::string_view each) { return each == exit; })) {
      problem("exit code " + exit + ": " + result_.message);
    }
    if (!says_one_of(result_.message, fault.words)) {
      problem("the words do not say it: " + result_.message);
    }
    judge_kept_record();
  }

  void judge_kept_record() {
    const bool disk = std::holds_alternative<DiskFault>(request_.fault.strike);
    if (!rows_exist(request_.phase)) return;
    if (result_.record == "none") problem("the rows so far are not kept");
    const bool complete = result_.record == "complete" || result_.record == "unusable";
    if (complete && !result_.whole) problem("rows are missing, and the record says it is complete");
    if (request_.phase == Phase::finishing && !complete && !disk) {
      problem("every row was taken, and the record says " + result_.record);
    }
    constexpr double kKeptWithin_s = 1.0;
    if (result_.lost_s > (disk ? kKeptWithin_s : 0.0) + 1e-6)
      problem("rows that were taken are lost");
  }

  const CellRequest& request_;
  const CellResult& result_;
  std::vector<std::string> problems_;
};

}  // namespace

std::vector<std::string> judge(const CellRequest& request, const CellResult& result) {
  return Judgement(request, result).pass();
}

std::string ending_word(const CellResult& result) {
  if (!result.struck) return "-";
  return result.exit == -1 ? "killed" : std::to_string(result.exit);
}

}  // namespace tests::campaign
