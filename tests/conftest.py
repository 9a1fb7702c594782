"""Set-up of every test: floating-point errors raise, figures are closed, seeds are fixed."""

import gc
import os
import sys
from collections import Counter

if "PYTEST_XDIST_WORKER" in os.environ:
    # Workers share the processors; a test that wants more threads sets them itself. Before numpy is
    # loaded: threads of linear algebra that wait for each other take processors, too.
    for library in ("NUMBA", "OMP", "OPENBLAS"):
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")

import numpy as np
import pytest
from hypothesis import HealthCheck, settings
from xdist.scheduler import LoadFileScheduling

settings.register_profile(
    "repeatable",
    derandomize=True,
    deadline=None,
    max_examples=25,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("repeatable")


@pytest.fixture(autouse=True)
def strict_floating_point():
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        yield


@pytest.fixture(autouse=True)
def closed_figures():
    yield
    pyplot = sys.modules.get("matplotlib.pyplot")
    assert pyplot is None or not pyplot.get_fignums()


LONG = (
    "test_what_is_read_is_what_is_solved_for[two bends]",
    "test_bent_curves.py::test_both_ways_say_the_same[plug]",
    "test_the_march_adds_the_exact_cumulants[100000.0-10.0]",
    "test_two_joints_that_may_exchange_their_gaps_are_named",
    "test_plates_of_both_kinds_against_the_frequency_domain[0.3]",
    "test_plates_of_both_kinds_against_the_frequency_domain[4.0]",
    "test_the_stated_error_covers_what_a_march_is_off_where_it_is_hardest",
    "test_lessons.py::test_the_answer_is_what_the_solver_says[order]",
    "test_lessons.py::test_the_answer_is_what_the_solver_says[plate-height]",
    "test_a_gif_twice_has_the_same_bytes",
    "test_of_too_many_peaks_the_most_prominent_are_read",
    "test_peaks_far_apart_on_a_flat_baseline_are_not_cut[12-12]",
    "test_peaks_far_apart_on_a_flat_baseline_are_not_cut[12-2]",
    "test_the_lesson_on_coils_is_the_march[25 mm]",
    "test_a_record_comes_out_again_without_the_files_that_it_was_made_from[measure]",
    "test_each_step_is_judged_and_the_instrument_is_known_better",
    "test_what_a_plan_expects_is_marched",
    "test_changes_that_share_beginnings_go_to_workers_too",
    "test_the_signal_behind_a_column_that_focuses_has_slopes[sharp sample-numbers2]",
    "test_every_scenario.py::test_it_draws_the_same_from_the_stored_record[inherited-core-shell]",
    "test_a_video_says_what_it_shows[one.mp4]",
    "test_uncertainties_are_the_spread_over_repeats[tailed]",
    "test_the_order_says_where_it_turns",
    "test_every_field_of_every_part_says_what_it_is",
    "test_shipped_scenarios_survive_a_round_trip[some]",
    "test_lessons.py::test_the_answer_is_what_the_solver_says[bore]",
    "test_lessons.py::test_the_answer_is_what_the_solver_says[tolerance]",
    "test_random_instruments_come_from_a_fixed_seed",
    "test_an_improvement_is_handed_on_and_read_back",
    "test_pictures_of_a_record_are_drawn_again_in_another_size",
    "test_an_mp4_twice_has_the_same_bytes",
    "test_speed_sets_the_length",
    "test_nothing_serious_by_the_rules_of_axe[gradient",
    "test_nothing_serious_by_the_rules_of_axe[order",
    "test_measured_exercises.py::test_the_hidden_fault_is_found[quiet-baseline]",
    "test_metrics_of_a_sharp_sample_in_a_solvent_of_its_own_have_slopes[sharp sample]",
    "test_what_a_student_did_is_in_the_address_and_nowhere_else",
    "test_a_bed_of_cells_within_a_factor_of_two_of_its_steps[kept1]",
    "test_it_prints_on_one_sheet_and_can_be_read[long",
    "test_it_prints_on_one_sheet_and_can_be_read[long and measured-2]",
    "test_metrics_of_a_sharp_sample_in_a_solvent_of_its_own_have_slopes[sharp sample that ends",
    "test_the_staircase_shares_out_the_whole_loss_whatever_the_order",
    "test_the_whole_way_twice_has_the_same_bytes",
    "test_a_webm_twice_has_the_same_bytes",
    *(
        f"{test}[{name}]"
        for test in (
            "test_a_lesson_is_done_from_its_page_alone",
            "test_a_box_is_as_wide_as_its_answer_which_stands_beside_it",
        )
        for name in (
            "coil",
            "early-peaks",
            "gaussian-fails",
            "gradient",
            "hidden-joint",
            "joint",
            "plate-height",
            "tolerance",
            "two-tails",
        )
    ),
    "test_a_box_is_as_wide_as_its_answer_which_stands_beside_it[order]",
    "test_no_word_of_a_page_is_outside_the_table[gradient",
    "unit/cli/test_figures.py::test_a_second_run_gives_the_same_bytes",
    "unit/studies/test_tolerance.py::test_a_study_that_was_stopped_goes_on_to_the_same_bytes",
    *(
        f"test_the_lesson_on_coils_is_the_march[{radius}]"
        for radius in ("17 mm", "73 mm", "126 mm")
    ),
    "test_a_record_agrees_to_twelve_digits_on_an_older_processor",
    "test_where_much_passes_only_what_is_asked_is_solved_for",
    "test_any_number_of_threads_and_a_study_that_goes_on_give_the_same_bits",
    "test_processes_side_by_side_write_the_same_bytes",
    "test_a_pump_is_found_to_be_at_fault",
    "test_flow_diffusivity_and_a_clock_that_is_off_are_told",
    "test_derivatives.py::test_slopes_are_those_of_solutions_made_elsewhere[tube that is a loop]",
    "test_every_number_of_a_path_has_slopes[tube that is a loop]",
    "test_slopes_are_those_of_solutions_made_elsewhere[gradient in full]",
    "test_slopes_are_those_of_solutions_made_elsewhere[sample in a solvent of its own in full]",
    "test_two_columns_with_a_gradient_between",
    "test_ten_changes_have_the_order_and_the_shares_of_all_orders",
    "test_a_tube_that_is_bent",
    "test_a_bend_that_hands_its_profile_on",
    "test_slopes_of_responses_are_those_of_all_terms[stirred]",
    "test_slopes_of_responses_are_those_of_all_terms[turned]",
    "test_slopes_of_what_is_read_are_those_of_all_terms[stirred]",
    "test_a_loop_is_looked_at_like_any_injector",
    "test_many_random_entries_of_bent_tubes",
    "test_how_a_really_bent_tube_lies_is_found",
    "test_a_bent_tube_is_what_its_cumulants_and_the_spectral_way_say",
    "test_lessons.py::test_the_answer_is_what_the_solver_says[two-tails]",
    "test_a_column_alone_tails_more_than_what_is_recorded",
    "test_a_front_of_too_much_sample_comes_earlier_and_its_end_less_so",
    "test_whose_plate_height_a_late_peak_shows",
    "test_nothing_serious_in_any_other_lesson",
    "test_nothing_serious_in_any_report",
    "test_check_and_run_note_a_cell_of_millilitres",
    "test_amounts_along_a_bent_tube_are_those_of_its_march",
    "test_the_tail_of_a_washout_is_in_a_solvent_that_weakens",
    "test_spectral_solver_reaches_a_millionth[0.003]",
    "test_both_ways_say_the_same[much stirred]",
    "test_two_runs_in_two_processes_write_the_same_files",
    "test_ten_thousand_samples_take_less_than_200_megabytes",
    "test_a_new_row_stands_in_tables_sweeps_and_limits",
    "test_a_study_is_handed_on_in_every_form_and_read_back",
    "test_march_of_two_sites_against_its_cumulants[numbers3]",
    "test_both_solvers_are_compared_on_the_first_and_the_last",
    "test_killed_twenty_times",
    "test_two_hundred_random_scenarios_in_a_browser",
    "test_two_hundred_random_bends_in_a_browser",
    "test_the_staircase_is_that_of_improve[inherited-core-shell.toml-plates-gain]",
    "test_outlet_curve_at_default_accuracy[plug-0.02-0.003]",
    "test_lessons.py::test_the_answer_is_what_the_solver_says[coil]",
    *(
        f"test_lessons.py::test_the_commands_work_as_written[{name}]"
        for name in ("order", "plate-height")
    ),
    "test_lessons.py::test_the_commands_work_as_written[bore]",
    "test_lessons.py::test_the_commands_work_as_written[gaussian-fails]",
    "test_lessons.py::test_the_commands_work_as_written[early-peaks]",
    "test_lessons.py::test_the_commands_work_as_written[coil]",
    "test_lessons.py::test_the_commands_work_as_written[slow-detector]",
    "test_lessons.py::test_the_commands_work_as_written[gradient]",
    "test_lessons.py::test_the_commands_work_as_written[two-tails]",
    "test_lessons.py::test_the_commands_work_as_written[tolerance]",
    "test_lessons.py::test_the_commands_work_as_written[hidden-joint]",
    "test_coverage_for_a_linear_model",
    "test_coverage_of_the_",
    "test_zeta_scores_are_normal",
    "test_the_truth_is_found_within",
    "test_the_same_figures_though_a_worker",
    "test_a_terminal_is_told_how_far",
    "test_widest_tolerance_keeps_its",
    "test_a_chain_adds_its_exact_cumulants_part_by_part[0.3-spectral]",
    "test_two_halves_are_the_whole[0.3-spectral]",
    "test_a_second_run_gives_the_same_files",
    "test_a_bent_tube_is_what_its_cumulants_and_the_spectral_way_say[fast and stirred]",
    "test_sections_hold_what_their_rings_hold_and_turn_with_the_bend",
    "test_shipped_scenarios_survive_a_round_trip[all]",
    "test_random_scenarios_survive_edits[many]",
    "test_five_hundred_hostile_files",
    "test_random_gradients[many]",
    "test_mistakes_are_those_of_the_program[many]",
    "test_a_sample_in_a_solvent_of_its_own[strong, in a gradient]",
    "test_a_sample_in_a_solvent_of_its_own[strong]",
    "test_a_sample_in_a_solvent_of_its_own[weak]",
    "test_nothing_serious_for_a_screen_reader",
    "test_outlet_curve_at_default_accuracy[plug-2.0-0.003]",
    "test_outlet_curve_at_default_accuracy[smooth-0.02-0.003]",
    "test_tube_exact.py::test_a_plug_through_a_tube",
    "test_a_damaged_cache_is_passed_over",
    "test_march_of_two_sites_against_its_cumulants[numbers0]",
    "test_improve.py::test_a_second_run_writes_the_same_bytes",
    "test_lessons.py::test_the_answer_is_what_the_solver_says[hidden-joint]",
    "test_faults_are_seen_and_their_size_is_found",
    "test_a_stopped_sweep_goes_on_and_ends_the_same[killed]",
    "test_a_cluster_that_is_lost_is_told[1-every worker gone]",
    "test_a_shipped_study_runs_and_draws",
    "test_names_of_inputs_may_be_anything",
    "test_wheel.py::test_examples_run_and_report_work",
    "test_a_record_comes_out_again_in_a_process_of_its_own",
    "test_an_interrupted_study_says_how_to_go_on_and_refuses_another_question",
    "test_what_cannot_be_told_apart_is_named",
    "test_tolerance.py::test_a_run_is_reported_as_it_was_when_it_was_made",
    "test_march_of_two_sites_against_its_cumulants[numbers1]",
    "test_bent_curves.py::test_both_ways_say_the_same[faster]",
    "test_bent_curves.py::test_the_march_adds_the_exact_cumulants[100000.0-0.3]",
    "test_random_walkers_arrive_with_this_variance[1000.0-0.3]",
    "test_random_walkers_arrive_with_this_variance[10000.0-0.1]",
    "test_improve.py::test_the_report_is_made_again_from_the_record_alone",
    "test_a_cluster_that_is_lost_is_told[0-the scheduler gone]",
    "test_the_same_table_whatever_the_threads[1-staircase]",
    *(
        f"test_every_scenario.py::{test}[{scenario}]"
        for test in (
            "test_it_runs_and_keeps_the_amount",
            "test_it_is_stored_with_its_text_and_reloads_equal",
            "test_it_draws_the_same_from_the_stored_record",
        )
        for scenario in (
            "gradient-core-shell",
            "improved-core-shell",
            "improved-wide",
            "inherited-wide",
        )
    ),
    "test_so_it_does_where_what_is_compiled_goes_without_them_too",
    "test_a_record_of_what_is_shipped_agrees_there_too",
    "test_alterations.py::test_of_a_record[many]",
    "test_alterations.py::test_of_a_study_that_is_kept[many]",
    "test_alterations.py::test_of_signatures[many]",
    "test_followed.py::test_the_command_takes_steps_back",
    "test_measured_exercises.py::test_the_hidden_fault_is_found[after-service]",
    "test_measured_exercises.py::test_the_hidden_fault_is_found[false-alarm]",
    *(
        f"test_bent_curves.py::test_the_march_adds_the_exact_cumulants[{case}]"
        for case in ("300.0-3.0", "10000.0-0.3", "10000.0-3.0", "100000.0-3.0")
    ),
    *(
        f"test_figures.py::test_every_path_is_drawn_and_nothing_overlaps[{path}-3-"
        for path in ("long", "no column", "no detector", "column only")
    ),
    *(
        f"test_what_entered_is_in_the_tube_or_has_left[{injection}-{fourier}]"
        for injection in ("sharp", "wide", "short plug", "long plug")
        for fourier in ("0.1", "1.0", "3.0")
    ),
    *(
        f"test_nothing_overlaps_and_nothing_is_cut[{kind}-draw_frontiers]"
        for kind in ("not worth it", "uncertain")
    ),
    "test_a_loop_of_which_nobody_says_how_it_is_emptied_is_taken_both_ways",
    "test_a_cell_that_says_nothing_of_its_mixing_is_taken_both_ways",
    "test_both_ways_say_the_same[stirred]",
    "test_shock_and_rear_of_the_ideal_model[0.1]",
)
"""Tests that take many seconds and repeat in the large what others hold in the small. They run with
TAILRACE_ALL_TESTS=1 in the environment, so that the rest stays short enough to be run."""


FIRST = ("house/test_types.py",)
"""Files of one long test: were they begun last, one processor would wait for the other."""


def pytest_collection_modifyitems(config, items):
    if not os.environ.get("TAILRACE_ALL_TESTS"):
        left = {one for one in items if any(name in one.nodeid for name in LONG)}
        config.hook.pytest_deselected(items=[one for one in items if one in left])
        items[:] = [one for one in items if one not in left]
    # file by file; the larger ones first, as pytest-xdist would have it
    sizes = Counter(one.path for one in items)
    items.sort(key=lambda one: (not one.nodeid.split("::")[0].endswith(FIRST), -sizes[one.path]))


TOGETHER = {
    "exhibits": ("test_gallery.py", "wording/test_wording.py"),
    "bench": ("web/test_bench.py", "web/test_bench_led.py"),
    "sources": ("tests/house/test_",),
}
"""Files, by the beginning or the end of their names, that share what is costly to make: they go to
the same process."""


class FilesTogether(LoadFileScheduling):
    """File by file, but for those of TOGETHER."""

    def _split_scope(self, nodeid):
        file = nodeid.split("::")[0]
        shared = (
            name for name, ends in TOGETHER.items() if file.endswith(ends) or file.startswith(ends)
        )
        return file if file.endswith(FIRST) else next(shared, file)


def pytest_xdist_make_scheduler(config, log):
    return FilesTogether(config, log) if config.getvalue("dist") == "loadfile" else None


def pytest_collection_finish():
    gc.freeze()  # what is there now stays: not to be looked through again and again
    gc.set_threshold(20_000, 20, 20)  # nor what a test makes, many times while it runs
